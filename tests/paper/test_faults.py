"""What must be an error on paper, and never a silent fallback."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from tests.paper.conftest import NAMES, TEMPLATES, Made

from standfast.paper.batch import Job, print_all
from standfast.paper.fonts import FACES
from standfast.paper.pdf import Printer, TooLong
from standfast.paper.view.score_sheet import Lesson, score_sheet_view
from standfast.problems import PaperError, StandfastError


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A school's own folder of templates, empty."""
    folder = tmp_path / "templates"
    folder.mkdir()
    return folder


def printer(own: Path) -> Printer:
    return Printer((own, TEMPLATES))


def test_a_school_changes_a_template_by_copying_it(made: Made, own: Path) -> None:
    page = (TEMPLATES / "certificate.html").read_text("utf-8")
    (own / "certificate.html").write_text(page.replace("The school records that", "We saw that"))

    assert "We saw that" in printer(own).html("certificate", made.certificate())
    assert "We saw that" not in Printer((TEMPLATES,)).html("certificate", made.certificate())


def test_an_unknown_variable_names_template_line_and_what_is_known(made: Made, own: Path) -> None:
    (own / "certificate.html").write_text("<title>x</title>\n<p>{{ nmae }}</p>\n")

    with pytest.raises(PaperError, match=r"certificate.html, line 2: 'nmae' is undefined.*name"):
        printer(own).print("certificate", made.certificate())


def test_an_unknown_field_of_a_line_is_an_error_too(made: Made, own: Path) -> None:
    (own / "record.html").write_text("{% for part in parts %}{{ part.tilte }}{% endfor %}")

    with pytest.raises(PaperError, match=r"record.html, line 1: .*tilte"):
        printer(own).print("record", made.record())


def test_a_broken_template_names_its_line(made: Made, own: Path) -> None:
    (own / "certificate.html").write_text("<p>\n{% if name %}\n</p>")

    with pytest.raises(PaperError, match=r"certificate.html, line \d"):
        printer(own).print("certificate", made.certificate())


@pytest.mark.parametrize("missing", [name for _, _, name in FACES])
def test_a_missing_font_is_an_error(made: Made, tmp_path: Path, missing: str) -> None:
    folder = tmp_path / "copy"
    shutil.copytree(TEMPLATES, folder)
    (folder / "fonts" / missing).unlink()

    with pytest.raises(PaperError, match=f"font {missing} is missing"):
        Printer((folder,)).print("certificate", made.certificate())


def test_a_font_that_is_none_is_an_error(made: Made, tmp_path: Path) -> None:
    folder = tmp_path / "copy"
    shutil.copytree(TEMPLATES, folder)
    (folder / "fonts" / FACES[0][2]).write_bytes(b"not a font")

    with pytest.raises(PaperError, match=FACES[0][2]):
        Printer((folder,)).print("certificate", made.certificate())


def test_a_letter_that_no_font_has_is_named(made: Made, press: Printer) -> None:
    with pytest.raises(PaperError, match=r"no shipped font can show '\\U00013000' \(EGYPTIAN"):
        press.print("certificate", made.certificate("Ada \U00013000 Berg"))


def test_an_unknown_property_in_a_style_sheet_is_an_error(made: Made, own: Path) -> None:
    style = (TEMPLATES / "certificate.css").read_text("utf-8")
    (own / "certificate.css").write_text(style + "\nh1 { colour: red; }\n")

    with pytest.raises(PaperError, match="colour"):
        printer(own).print("certificate", made.certificate())


def test_nothing_is_fetched(made: Made, own: Path) -> None:
    page = (TEMPLATES / "certificate.html").read_text("utf-8")
    image = '<img alt="a picture" src="https://pictures.example.org/a.png">'
    (own / "certificate.html").write_text(page.replace("<h1>", image + "<h1>"))

    with pytest.raises(PaperError, match="disallowed protocol: https://pictures"):
        printer(own).print("certificate", made.certificate())


def test_what_a_person_typed_is_text_and_no_markup(made: Made, press: Printer) -> None:
    page = press.html("certificate", made.certificate("<script>Ada</script> & Co"))

    assert "&lt;script&gt;Ada&lt;/script&gt; &amp; Co" in page


def test_a_sheet_longer_than_its_page_is_refused(made: Made, press: Printer) -> None:
    view = score_sheet_view(made.rubric, made.syllabus, made.school, Lesson(), 60)

    with pytest.raises(TooLong, match="the score-sheet takes 3 pages instead of 1"):
        press.print("score-sheet", view, most_pages=1)


def test_a_batch_writes_the_bytes_of_pages_printed_alone(
    made: Made, press: Printer, tmp_path: Path
) -> None:
    jobs = [
        Job("certificate", made.certificate(name), tmp_path / f"{n}.pdf")
        for n, name in enumerate([*NAMES.values(), *NAMES.values(), *NAMES.values()])
    ]
    told: list[tuple[int, int]] = []

    print_all(jobs, press.folders, lambda done, of: told.append((done, of)), processes=2)

    assert told == [(n, len(jobs)) for n in range(1, len(jobs) + 1)]
    for job in jobs[:9]:
        assert job.file.read_bytes() == press.print(job.name, job.view)


def test_a_batch_says_which_page_could_not_be_made(
    made: Made, press: Printer, tmp_path: Path
) -> None:
    names = ["Ada Berg"] * 12 + ["\U00013000"] + ["Ada Berg"] * 12
    jobs = [
        Job("certificate", made.certificate(name), tmp_path / f"{n}.pdf")
        for n, name in enumerate(names)
    ]

    with pytest.raises(PaperError, match=r"^12\.pdf: no shipped font"):
        print_all(jobs, press.folders, lambda _done, _of: None, processes=2)


@pytest.mark.parametrize("count", [1, 25])
def test_a_page_of_a_batch_that_cannot_be_written_is_told_in_words(
    made: Made, press: Printer, tmp_path: Path, count: int
) -> None:
    """Also from a process that only draws some of them."""
    (tmp_path / "23.pdf" if count > 1 else tmp_path / "0.pdf").mkdir()
    jobs = [
        Job("certificate", made.certificate("Ada Berg"), tmp_path / f"{n}.pdf")
        for n in range(count)
    ]

    with pytest.raises(StandfastError, match=r"\.pdf: Is a directory; name another folder$"):
        print_all(jobs, press.folders, lambda _done, _of: None, processes=2)

    assert not [one for one in tmp_path.iterdir() if one.name.startswith(".")]
