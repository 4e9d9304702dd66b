"""The comparison of assessors as a report: on paper, and as one file for a browser."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar, cast

from standfast.desk.comparing import ALIKE_ENOUGH, Comparison
from standfast.desk.confusions import confusions
from standfast.desk.in_step import NO_PROOF, three_sentences
from standfast.desk.press import folders, printer
from standfast.desk.schools import shipped
from standfast.desk.sources import NotTold
from standfast.desk.titles import in_titles
from standfast.in_place import put_in_place
from standfast.model.decision import OUTCOME_WORDS
from standfast.model.school import School
from standfast.paper.view.charts import Spread, courses, dots, grid
from standfast.paper.view.comparison import ComparisonView, Section, Table, comparison_view
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.agreement.course import InPeriod
    from standfast.desk.confusions import Confusion
    from standfast.desk.marks import Marks
    from standfast.desk.opening import Desk
    from standfast.desk.panels import Panels
    from standfast.desk.severities import Part, Severities
    from standfast.desk.sources import Origins

MOST_FAIR = 10
"""Lessons whose fair score is shown; the JSON has all."""

MOST_PERIODS = 12
"""The last ones; before them nothing is drawn."""

NOBODY = School(id="table", name="-")


@dataclass(frozen=True)
class ReportFiles:
    """Where the report goes."""

    pdf: Path | None = None
    html: Path | None = None

    def check(self) -> None:
        """Returns when both can be written.

        Raises:
            StandfastError: another ending than its kind, or no such folder; every fault.
        """
        faults = []
        for file, kind in ((self.pdf, "pdf"), (self.html, "html")):
            if file and file.suffix.lower() != f".{kind}":
                faults.append(f"{file}: a file for --{kind} ends in .{kind}; name it so")
            elif file and (file.is_dir() or not file.parent.is_dir()):
                faults.append(f"{file}: lies in no folder; name another file with --{kind}")
        if faults:
            raise StandfastError("\n".join(faults))


def write_report(desk: Desk | None, found: Comparison, on: date, files: ReportFiles) -> list[Path]:
    """Writes the report where it is wanted; each file whole or not at all.

    Without a desk, for a table, it names no school.

    Raises:
        StandfastError: as `ReportFiles.check`, or a file cannot be written.
        PaperError: the page cannot be drawn.
    """
    from standfast.paper.pdf import Printer

    files.check()
    view = report_view(found, on, desk.school if desk else None)
    where = folders(desk) if desk else (shipped("templates"),)
    press = printer(desk) if desk else Printer(where)
    done = []
    if files.pdf:
        put_in_place(files.pdf, press.print("comparison", view))
        done.append(files.pdf)
    if files.html:
        alone = replace(view, style=press.style_text("comparison-file"))
        put_in_place(files.html, press.html("comparison", alone).encode("utf-8"))
        done.append(files.html)
    return done


def report_view(found: Comparison, on: date, school: School | None) -> ComparisonView:
    """The report, in words and drawings; what has a title is called by it."""
    sentences = three_sentences(found, found.marks.title)
    told = _in_titles(tuple(sections(found)), found.marks)
    source = _in_titles(_source(found), found.marks)
    view = comparison_view(source, sentences, told, _reading(), on, school or NOBODY)
    return view if school else replace(view, school="")


T = TypeVar("T")


def _in_titles(part: T, marks: Marks) -> T:
    """The same with ids in its sentences as titles."""
    told: object = part
    if isinstance(part, str):
        told = in_titles(part, marks.titles.get)
    elif isinstance(part, tuple):
        told = tuple(_in_titles(one, marks) for one in part)
    elif is_dataclass(part) and not isinstance(part, type):
        told = replace(
            part, **{at.name: _in_titles(getattr(part, at.name), marks) for at in fields(part)}
        )
    return cast("T", told)


def _source(found: Comparison) -> str:
    return (
        f"From {found.marks.source}: {found.assessors} assessors, {found.all_lessons} lessons, of"
        f" which {found.lessons} were scored by two or more."
    )


def _reading() -> tuple[str, ...]:
    return (
        (
            "Bounds hold the true figure 95 times in 100; a hollow dot has none, since too few"
            " lessons stand behind it. Each criterion of a lesson counts as much as another."
        ),
        NO_PROOF,
    )


def sections(found: Comparison) -> Iterator[Section]:
    """One section for each question, those that a lead acts on first."""
    yield _agreement(found)
    yield from _severity(found)
    yield from _confusion(found)
    yield from _drift(found)
    if not isinstance(found.panels, NotTold):
        yield _panels(found.panels)
    if not isinstance(found.origins, NotTold):
        yield _origins(found.origins)
    yield from _decisions(found)


# Agreement


def _agreement(found: Comparison) -> Section:
    spreads = [
        Spread(title, one.alike.value, one.alike.low, one.alike.high, rubric)
        for one in found.criteria
        for title, rubric in [found.marks.title_and_rubric(one.criterion)]
    ]
    least = found.criteria[0]
    says = (
        f"Two who saw the same marked '{found.marks.title(least.criterion)}' alike least often,"
        f" {_hundred(least.alike.value)} of 100 times; enough would be"
        f" {_hundred(ALIKE_ENOUGH)}."
    )
    drawn = dots(
        "agreement",
        "How often two assessors marked a criterion alike",
        says,
        spreads,
        (0.0, 1.0),
        [(at / 10, f"{at * 10}") for at in range(0, 11, 2)],
        "of 100 marks that two gave to the same",
        (ALIKE_ENOUGH, "enough"),
    )
    rows = tuple(
        (
            found.marks.title(one.criterion),
            f"{one.alike.value * 100:.0f} %",
            _bounds(one.alike.low, one.alike.high, 100, "%.0f"),
            str(one.alike.n),
            str(one.marks),
            one.word,
        )
        for one in found.criteria
    )
    head = ("Criterion", "Alike", "Bounds", "Lessons", "Marks", "In words")
    table = Table("Share of marks alike, least alike first", head, rows)
    return Section("agreement", "How alike criteria are marked", says, (drawn,), (table,))


def _hundred(share: float) -> str:
    return f"{share * 100:.0f}"


def _bounds(low: float | None, high: float | None, times: float, form: str) -> str:
    if low is None or high is None:
        return "too few lessons"
    return f"{form % (low * times)} to {form % (high * times)}"


# Severity


def _severity(found: Comparison) -> Iterator[Section]:
    told = list(found.severity.told())
    if not told:
        yield from _beside_the_others(found)
    for number, (part, severities) in enumerate(told, 1):
        yield _of_part(found, number, part, severities)


def _of_part(found: Comparison, number: int, part: Part, told: Severities) -> Section:
    names = found.marks.names
    spreads = [
        Spread(names[one.assessor], one.points, one.points_low, one.points_high)
        for one in told.assessors
    ]
    least, most = told.assessors[0], told.assessors[-1]
    says = (
        f"{names[least.assessor]} gives {abs(least.points):.2f} of a level"
        f" {'less' if least.points < 0 else 'more'} than an assessor of average severity to the"
        f" same lessons, {names[most.assessor]} {abs(most.points):.2f}"
        f" {'less' if most.points < 0 else 'more'}. {told.says}"
    )
    drawn = dots(
        f"severity-{number}",
        "Points of a level given more or less than by an assessor of average severity",
        says,
        spreads,
        *_around_zero(spreads),
        "points of a level",
        (0.0, "average severity"),
    )
    rows = tuple(
        (
            names[one.assessor],
            f"{one.points:+.2f}",
            _bounds(one.points_low, one.points_high, 1, "%+.2f"),
            f"{one.severity:+.2f} ({one.low:+.2f} to {one.high:+.2f})",
            str(one.lessons),
            one.fit or "regular" if one.infit is not None else "",
        )
        for one in told.assessors
    )
    head = ("Assessor", "Points", "Bounds", "Logits, + more severe", "Lessons", "Marks are")
    table = Table(f"Severity by links, {part.name}", head, rows)
    title = "How severe each assessor is" + ("" if number == 1 else f": {part.name}")
    tables = (table, *_fair(told))
    return Section(f"severity-{number}", title, says, (drawn,), tables, told.notes[1:])


def _around_zero(
    spreads: Sequence[Spread],
) -> tuple[tuple[float, float], list[tuple[float, str]]]:
    """Ends of an axis with 0 in the middle, and its ticks."""
    ends = [abs(e) for one in spreads for e in (one.value, one.low, one.high) if e is not None]
    most = max([*ends, 0.1])
    step = next(s for s in (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 1e9) if most / s <= 3)  # noqa: PLR2004 - ticks to a side
    count = int(most / step) + 1
    ticks = [(step * n, f"{step * n:+g}" if n else "0") for n in range(-count, count + 1)]
    return (-step * count, step * count), ticks


def _fair(told: Severities) -> Iterator[Table]:
    if not told.fair:
        return
    shown = told.fair[:MOST_FAIR]
    rows = tuple(
        (
            one.lesson,
            f"{one.given:.2f}",
            f"{one.fair:.2f}",
            _bounds(one.low, one.high, 1, "%.2f"),
            f"{one.correction:+.2f}",
        )
        for one in shown
    )
    caption = (
        f"Fair scores: the mean level by an assessor of average severity; the {len(shown)} largest"
        f" corrections of {len(told.fair)} lessons"
    )
    yield Table(caption, ("Lesson", "Given", "Fair", "Bounds", "Correction"), rows)


def _beside_the_others(found: Comparison) -> Iterator[Section]:
    habits = found.habits.severity
    if not habits:
        return
    names = found.marks.names
    spreads = [
        Spread(names[one.assessor], one.mean.value, one.mean.low, one.mean.high) for one in habits
    ]
    says = "Beside the others who saw the same lessons, in shares of the scale."
    drawn = dots(
        "severity",
        "Marks beside those of the others who saw the same",
        says,
        spreads,
        *_around_zero(spreads),
        "of the scale, + higher",
        (0.0, "as the others"),
    )
    rows = tuple(
        (
            names[one.assessor],
            f"{one.mean.value * 100:+.0f} %",
            _bounds(one.mean.low, one.mean.high, 100, "%+.0f"),
            str(one.mean.n),
            "stands out" if one.stands_out else "",
        )
        for one in habits
    )
    head = ("Assessor", "Of the scale", "Bounds", "Lessons", "More than chance")
    table = Table("Severity beside the others", head, rows)
    yield Section("severity", "How severe each assessor is", says, (drawn,), (table,))


# Two assessors


def _confusion(found: Comparison) -> Iterator[Section]:
    pairs = [(one.first, one.second) for one in found.pairs]
    each = confusions(found.marks, pairs)
    if not each:
        return
    names = found.marks.names
    charts, tables = [], []
    for number, one in enumerate(each, 1):
        first, second = names[one.first], names[one.second]
        levels = [f"{level:g}" for level in one.levels]
        title = f"Levels that {first} and {second} gave to the same lessons"
        desc = f"{one.alike} of {one.marks} are the same level."
        words = (f"down: {first} gave", f"across: {second} gave")
        charts.append(grid(f"pair-{number}", title, desc, levels, one.counts, words))
        tables.append(_counts(one, found.marks, levels))
    says = (
        "Rows are the levels that the first gave, columns those that the second gave to the same"
        " lesson and criterion; outlined are those that are alike, darker are more."
    )
    yield Section("pairs", "Where two assessors part", says, tuple(charts), tuple(tables))


def _counts(one: Confusion, marks: Marks, levels: Sequence[str]) -> Table:
    first, second = marks.names[one.first], marks.names[one.second]
    rows = tuple(
        (f"{first} gave {level}", *map(str, line))
        for level, line in zip(levels, one.counts, strict=True)
    )
    head = (f"{first}, {second}", *(f"{second} gave {level}" for level in levels))
    criteria = (
        f"{len(one.criteria)} criteria" if len(one.criteria) > 1 else marks.title(one.criteria[0])
    )
    caption = f"{first} and {second}: {one.alike} of {one.marks} the same level, over {criteria}"
    return Table(caption, head, rows)


# Drift


def _drift(found: Comparison) -> Iterator[Section]:
    periods, every = _course(found)
    periods = periods[-MOST_PERIODS:]
    every = tuple(one for one in every if one.period in periods)
    if not every:
        return
    names = found.marks.names
    by_name: dict[str, list[InPeriod]] = {}
    for one in every:
        by_name.setdefault(one.assessor, []).append(one)
    each = [
        (
            names[who],
            [(periods.index(o.period), Spread(o.period, o.value, o.low, o.high)) for o in of_one],
        )
        for who, of_one in by_name.items()
    ]
    says = _drifted(found)
    drawn = courses(
        "drift", "Marks beside those of the others, period by period", says, periods, each
    )
    told = {(one.assessor, one.period): one for one in every}
    rows = tuple(
        (names[who], *(_in_period(told.get((who, period))) for period in periods))
        for who in by_name
    )
    caption = (
        "In % of the scale, + higher than the others who saw the same; then bounds, where there are"
        " enough lessons; then how many lessons (n)"
    )
    table = Table(caption, ("Assessor", *periods), rows)
    note = (
        "A box shows one assessor; what is asked of chance is asked of the one period that is most"
        " unlike those before it, allowing for how often was looked."
    )
    yield Section("drift", "How severity goes over time", says, (drawn,), (table,), (note,))


def _in_period(one: InPeriod | None) -> str:
    if one is None:
        return ""
    lines = [f"{one.value * 100:+.0f}"]
    if one.low is not None and one.high is not None:
        lines.append(f"{one.low * 100:+.0f} to {one.high * 100:+.0f}")
    return "\n".join([*lines, f"n {one.lessons}"])


def _drifted(found: Comparison) -> str:
    names = found.marks.names
    told = [
        f"{names[one.assessor]} marked {abs(one.mean.value) * 100:.0f} % of the scale"
        f" {'lower' if one.mean.value < 0 else 'higher'} in {one.period} than before"
        for one in found.habits.drifted
    ]
    return f"{'; '.join(told)}." if told else "Nobody drifts by more than chance."


def _course(found: Comparison) -> tuple[tuple[str, ...], tuple[InPeriod, ...]]:
    from standfast.agreement.course import course

    period_of, periods = found.marks.periods
    return periods, course(found.marks.judged, period_of, periods)


# Sources, panels, decisions


def _panels(told: Panels) -> Section:
    rows = tuple(
        (
            _panel(one.practicals, one.assessors),
            f"{one.otherwise * 100:.0f} %",
            _bounds(one.low, one.high, 100, "%.0f"),
            f"{one.relative:.2f}",
            f"{one.absolute:.2f}",
        )
        for one in told.tried
    )
    head = ("Panel", "Another decides otherwise", "Bounds", "Relative", "Phi")
    table = Table("What more assessors and practicals buy", head, rows)
    note = (
        f"Pass or fail is taken {told.where}; from {told.lessons} lessons by their whole sheets,"
        " supposing normal differences. Relative and Phi are generalizability coefficients, of"
        " which 1 is best: for comparing people with each other, and with a line."
    )
    return Section("panels", "What a second assessor buys", told.says, (), (table,), (note,))


def _panel(practicals: int, assessors: int) -> str:
    several = "s" * (practicals > 1), "s" * (assessors > 1)
    return f"{practicals} practical{several[0]}, {assessors} assessor{several[1]}"


def _origins(told: Origins) -> Section:
    rows = tuple((one.what, f"{one.share * 100:.0f} %", one.words) for one in told.parts)
    table = Table("Shares of all differences", ("Source", "Share", "In words"), rows)
    says = f"By {told.method}, as {told.why}; {told.marks} marks of {len(told.criteria)} criteria."
    return Section("sources", "Where differences come from", says, (), (table,), told.said)


def _decisions(found: Comparison) -> Iterator[Section]:
    asked = found.otherwise
    if asked is None or not any(found.severity.told()):
        return
    says = (
        f"{len(asked.found) or 'None'} of {asked.decisions} decisions would have come out otherwise"
        " from assessors of average severity. The list is for a person to look at; nothing that was"
        " decided is changed."
    )
    rows = tuple(
        (
            f"{one.name}, {one.on}",
            OUTCOME_WORDS[one.outcome],
            OUTCOME_WORDS[one.would_be],
            ", ".join(map(found.marks.title, one.criteria)),
            "" if one.certain else "not certain: each severity here may be average",
        )
        for one in asked.found
    )
    head = ("Whose, and when", "Decided", "Would be", "Tipped by", "How sure")
    tables = (Table("To look at", head, rows),) if rows else ()
    yield Section("decisions", "Decisions to look at", says, (), tables, tuple(asked.left_out))
