"""The report about assessors: what it says and draws, on paper and in a browser's file."""

from __future__ import annotations

import re
from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standfast.agreement.course import course
from standfast.agreement.ratings import long_form
from standfast.desk.comparing import Comparison, compare
from standfast.desk.comparison_report import ReportFiles, report_view, write_report
from standfast.desk.confusions import confusions
from standfast.desk.marks import marks_of_file
from standfast.paper.view.charts import LABELS, MOST_ROWS, PLOT_END, Dots, Spread, dots, grid
from standfast.problems import StandfastError

ON = date(2026, 11, 20)


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Thirty lessons over a year, three assessors, four criteria; bo gives a level less."""
    random = np.random.default_rng(5)
    lines = ["subject,assessor,criterion,score,occasion"]
    for lesson in range(30):
        day = f"2026-{lesson % 12 + 1:02}-1{lesson // 12}"
        level = random.integers(2, 5, 4)
        for who in np.array(["ann", "bo", "<cy> & co"])[[lesson % 3, (lesson + 1) % 3]]:
            for n in range(4):
                given_level = level[n] - (who == "bo") + (random.random() < 0.15)
                lines.append(f"s{lesson},{who},c{n},{min(max(given_level, 1), 4)},{day}")
    file = tmp_path_factory.mktemp("report") / "marks.csv"
    file.write_text("\n".join(lines), "utf-8")
    return file


@pytest.fixture(scope="module")
def found(table: Path) -> Comparison:
    return compare(marks_of_file(table, None))


@pytest.fixture(scope="module")
def written(found: Comparison, tmp_path_factory: pytest.TempPathFactory) -> ReportFiles:
    folder = tmp_path_factory.mktemp("out")
    files = ReportFiles(folder / "report.pdf", folder / "report.html")
    assert write_report(None, found, ON, files) == [files.pdf, files.html]
    return files


class Page(HTMLParser):
    """What is in the page: tags in order, and the text of each table cell and drawing."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.tags and data.strip():
            self.texts.append((self.tags[-1][0], data.strip()))


def page_of(files: ReportFiles) -> Page:
    assert files.html
    page = Page()
    page.feed(files.html.read_text("utf-8"))
    return page


def test_it_opens_with_three_sentences_and_ends_with_the_caution(written: ReportFiles) -> None:
    assert written.html
    text = written.html.read_text("utf-8")
    items = re.findall(r"<li>(.*?)</li>", text)

    assert len(items) == 3
    assert "bo marks" in items[1]
    assert items[2].startswith("Next: ")
    assert text.index("stays on the ground") > text.index("How to read this")
    assert "Being in step is not being right" in text


def test_the_file_fetches_nothing_and_has_no_script(written: ReportFiles) -> None:
    assert written.html
    text = written.html.read_text("utf-8")
    page = page_of(written)

    assert "<script" not in text
    assert not [tag for tag, _ in page.tags if tag in {"link", "img", "iframe", "object"}]
    assert "url(" not in text
    assert not [name for _, attributes in page.tags for name in attributes if name.startswith("on")]
    assert written.html.stat().st_size < 500_000


def test_names_are_text_whatever_is_in_them(written: ReportFiles) -> None:
    assert written.html
    text = written.html.read_text("utf-8")

    assert "&lt;cy&gt; &amp; co" in text
    assert "<cy>" not in text


def test_every_drawing_says_what_it_shows_and_every_table_has_heads(written: ReportFiles) -> None:
    page = page_of(written)
    drawings = [attributes for tag, attributes in page.tags if tag == "svg"]
    ids = [
        attributes["id"] for tag, attributes in page.tags if tag in {"title", "desc"} and attributes
    ]

    assert len(drawings) >= 4
    for one in drawings:
        assert one["role"] == "img"
        assert set((one["aria-labelledby"] or "").split()) <= set(ids)
    assert len(ids) == len(set(ids)) == 2 * len(drawings)
    tables = [tag for tag, _ in page.tags if tag == "table"]
    assert len(tables) == len([tag for tag, _ in page.tags if tag == "caption"]) >= 4
    assert all(a.get("scope") in {"col", "row"} for tag, a in page.tags if tag == "th")
    levels = [tag for tag, _ in page.tags if re.fullmatch(r"h\d", tag)]
    assert levels[0] == "h1"
    assert set(levels[1:]) == {"h2"}


def test_what_is_drawn_stands_in_the_tables_too(found: Comparison) -> None:
    for section in report_view(found, ON, None).sections:
        words = {cell for table in section.tables for row in table.rows for cell in row}
        heads = {cell for table in section.tables for cell in table.head}
        for drawn in section.charts:
            if drawn.kind == "dots":
                assert isinstance(drawn, Dots)
                assert {row.label.whole for row in drawn.rows} <= words
            elif drawn.kind == "grid":
                assert {cell.words for cell in drawn.cells} <= words  # type: ignore[union-attr]
            else:
                assert {panel.label.whole for panel in drawn.panels} <= words  # type: ignore[union-attr]
                assert {tick.words for tick in drawn.periods} <= heads  # type: ignore[union-attr]


def test_the_paper_is_the_same_bytes_again_and_says_the_same(
    found: Comparison, written: ReportFiles, tmp_path: Path
) -> None:
    import subprocess

    again = ReportFiles(tmp_path / "again.pdf")
    write_report(None, found, ON, again)
    assert again.pdf
    assert written.pdf
    assert again.pdf.read_bytes() == written.pdf.read_bytes()
    words = subprocess.run(["pdftotext", written.pdf, "-"], capture_output=True, check=True).stdout
    text = " ".join(words.decode().split())

    for wanted in ("Are the assessors in step?", "Where two assessors part", "<cy> & co"):
        assert wanted in text
    assert "When in doubt, the student stays on the ground." in text
    assert "1 of " in text


@pytest.mark.parametrize(
    ("files", "words"),
    [
        (ReportFiles(Path("report.html")), "a file for --pdf ends in .pdf"),
        (ReportFiles(None, Path("report.pdf")), "a file for --html ends in .html"),
        (ReportFiles(Path("nowhere/report.pdf")), "lies in no folder"),
    ],
)
def test_a_place_where_no_report_can_be_is_said_at_once(files: ReportFiles, words: str) -> None:
    with pytest.raises(StandfastError, match=re.escape(words)):
        files.check()


def test_both_faults_are_said_together() -> None:
    with pytest.raises(StandfastError) as said:
        ReportFiles(Path("a.html"), Path("b.pdf")).check()

    assert len(str(said.value).splitlines()) == 2


def test_confusion_is_counted_by_hand(tmp_path: Path) -> None:
    file = tmp_path / "marks.csv"
    pairs = [(1, 1), (1, 2), (2, 2), (2, 2), (3, 2), (3, 3)]
    lines = ["subject,assessor,criterion,score"]
    for n, (first, second) in enumerate(pairs):
        lines += [f"s{n},ann,c,{first}", f"s{n},bo,c,{second}"]
    file.write_text("\n".join(lines), "utf-8")
    (one,) = confusions(marks_of_file(file, None), [("ann", "bo")])

    assert one.levels == (1.0, 2.0, 3.0)
    assert one.counts == ((1, 1, 0), (0, 2, 0), (0, 1, 1))
    assert (one.alike, one.marks) == (4, 6)
    assert confusions(marks_of_file(file, None), []) == ()


def test_too_few_shared_marks_are_no_pattern(tmp_path: Path) -> None:
    file = tmp_path / "marks.csv"
    lines = ["subject,assessor,criterion,score"]
    lines += [f"s{n},{who},c,{n % 3 + 1}" for n in range(4) for who in ("ann", "bo")]
    file.write_text("\n".join(lines), "utf-8")

    assert confusions(marks_of_file(file, None), [("ann", "bo")]) == ()


def test_a_course_has_a_mean_for_each_period_and_bounds_where_lessons_suffice() -> None:
    subjects, assessors, scores, occasions = [], [], [], []
    for n in range(6):
        for who, score in (("ann", 2), ("bo", 2 if n < 4 else 4)):
            subjects.append(f"s{n}")
            assessors.append(who)
            scores.append(float(score) if n else float(score) + 2)  # 2 to 4 occur
            occasions.append("2026-01-01" if n < 4 else "2026-04-01")
    ratings = long_form(subjects, assessors, ["c"] * 12, scores, occasions)
    found = course(ratings, np.array([0, 1]), ("2026Q1", "2026Q2"))
    told = {(one.assessor, one.period): one for one in found}

    assert told["ann", "2026Q1"].value == 0
    assert (told["ann", "2026Q1"].low, told["ann", "2026Q1"].lessons) == (0, 4)
    assert told["ann", "2026Q2"].value == -1
    assert told["bo", "2026Q2"].value == 1
    assert told["bo", "2026Q2"].low is None


@given(st.lists(st.floats(0, 1), min_size=1, max_size=60))
def test_dots_stand_inside_in_order_and_no_more_than_fit(values: list[float]) -> None:
    spreads = [Spread(str(n), one, None, None) for n, one in enumerate(values)]
    drawn = dots("x", "t", "d", spreads, (0.0, 1.0), [(0.5, "half")], "axis")

    assert len(drawn.rows) == min(len(values), MOST_ROWS)
    assert all(LABELS <= row.x <= PLOT_END for row in drawn.rows)
    assert [row.y for row in drawn.rows] == sorted({row.y for row in drawn.rows})
    order = sorted(range(len(drawn.rows)), key=lambda n: values[n])
    places = [drawn.rows[n].x for n in order]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        pytest.param("Ten seconds to settle", "Ten seconds to settle", id="short"),
        pytest.param(
            "Consent to touch asked for again", "Consent to touch asked for again", id="just fits"
        ),
        pytest.param(
            "Touch without consent asked again", "Touch without consent asked…", id="just too long"
        ),
        pytest.param(
            "Asks and then waits, then asks, again", "Asks and then waits, then asks…", id="comma"
        ),
        pytest.param(
            "Gleichgewichtsverlagerungsversuche", "Gleichgewichtsverlagerungsversu…", id="one word"
        ),
    ],
)
def test_a_long_name_is_cut_between_words_and_told_whole(name: str, words: str) -> None:
    (row,) = dots("x", "t", "d", [Spread(name, 0, None, None)], (0, 1), [], "axis").rows

    assert (row.label.words, row.label.whole) == (words, name)


def test_a_chart_with_two_lines_to_a_name_is_no_higher() -> None:
    def height(of: str) -> float:
        spreads = [Spread(str(n), 0, None, None, of) for n in range(MOST_ROWS)]
        return dots("x", "t", "d", spreads, (0, 1), [], "axis").height

    assert height("") - 28 < height("Instructor, low static trapeze") <= height("")


def test_a_grid_is_darkest_where_there_are_most() -> None:
    drawn = grid("g", "t", "d", ["1", "2"], [[0, 1], [2, 40]], ("a", "b"))
    shade = {cell.words: int(cell.fill[1:3], 16) for cell in drawn.cells}

    assert shade["0"] > shade["1"] >= shade["2"] > shade["40"]
    assert [cell.same for cell in drawn.cells] == [True, False, False, True]
