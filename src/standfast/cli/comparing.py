"""The command `compare`: are the assessors in step?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import options, show
from standfast.cli.compared import observed, severity, sources, wording

if TYPE_CHECKING:
    from standfast.agreement.estimate import Estimate
    from standfast.agreement.habits import Habit
    from standfast.desk.bounds import Bounds
    from standfast.desk.comparing import Comparison, OfCriterion, OfPair


def add_to(app: typer.Typer) -> None:
    """Adds the command."""
    app.command(
        epilog=options.example("standfast compare --rubric low-trapeze-1 --since 2025-01-01")
    )(compare)


def compare(  # noqa: PLR0913, PLR0917 - one option for each way to narrow it, and each file
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="FILE",
            help="A CSV or XLSX table with the columns subject, assessor, criterion, score, and"
            " perhaps occasion; the record book when left out.",
        ),
    ] = None,
    rubric: Annotated[
        str | None, typer.Option(help="Only lessons scored under this rubric.")
    ] = None,
    since: Annotated[
        str | None, typer.Option(metavar="DATE", help="Only lessons from this day on.")
    ] = None,
    pdf: Annotated[
        Path | None,
        typer.Option(metavar="FILE.pdf", help="Write the report with its charts on paper too."),
    ] = None,
    html: Annotated[
        Path | None,
        typer.Option(metavar="FILE.html", help="Write it as one file for a browser too."),
    ] = None,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_known: options.AsKnown = None,
    as_json: options.Json = False,
) -> None:
    """Say whether the assessors are in step.

    And who or what stands out, and what to do next; then the numbers behind it: how often two who
    saw the same marked it alike, and the habits of each. Names are shown: it is for who leads the
    assessors.
    """
    from standfast.desk.comparing import compare as compare_marks
    from standfast.desk.comparison_report import ReportFiles, write_report
    from standfast.desk.marks import marks_of_book, marks_of_file
    from standfast.problems import StandfastError

    first, files = options.day(since, "--since"), ReportFiles(pdf, html)
    files.check()
    if file is None:
        with options.question(folder, options.When(on, as_known)) as known:
            marks = marks_of_book(known.desk, rubric, first)
            found = compare_marks(marks, known.desk, rubric)
            written = write_report(known.desk, found, known.desk.today, files)
    else:
        if rubric or on or as_known:
            raise StandfastError(
                "--rubric, --on and --as-known ask the record book, and a table was named; leave"
                " out the one or the other"
            )
        found = compare_marks(marks_of_file(file, first))
        written = write_report(None, found, options.moment().now.date(), files)
    text = [*words_of(found), *(f"report: {path}" for path in written)]
    value = {**value_of(found), "files": [str(path) for path in written]}
    show.answer(text, value, as_json=as_json)


def words_of(found: Comparison) -> list[str]:
    """Three sentences, and the numbers behind them."""
    from standfast.cli.words import wrapped
    from standfast.desk.in_step import NO_PROOF, three_sentences
    from standfast.model.caution import CAUTION

    assessors = show.counted(found.assessors, "assessor")
    shared = f"{found.lessons} of {show.counted(found.all_lessons, 'lesson')}"
    return [
        *(line for sentence in three_sentences(found) for line in wrapped(sentence)),
        "",
        f"from {found.marks.source}: {assessors}; {shared} scored by two or more",
        "",
        *_criteria(found.criteria, found.bounds),
        "",
        *_pairs(found),
        "",
        *_habits(found),
        "",
        *observed.words_of(found),
        *wording.words_of(found),
        "",
        *sources.words_of(found),
        "",
        *severity.words_of(found),
        "",
        *wrapped(_how_read()),
        *wrapped(NO_PROOF),
        *wrapped(CAUTION),
    ]


def _how_read() -> str:
    from standfast.agreement.bootstrap import DRAWS
    from standfast.agreement.percent import LEAST_LESSONS
    from standfast.model.evidence import LOOKS_ALIKE

    return (
        "Bounds hold the true share 95 times in 100. Each criterion of a lesson counts as much as"
        f" another. Those of AC are from {DRAWS:,} draws of lessons. Shares of busy students within"
        f" {float(LOOKS_ALIKE):g} count as alike. * is more than chance, allowing for how many were"
        f" asked about. Under {LEAST_LESSONS} shared lessons nothing is said."
    )


def told(alike: Estimate) -> str:
    """87 % (85-89), without bounds where there are too few lessons."""
    share = f"{alike.value * 100:3.0f} %"
    if alike.low is None or alike.high is None:
        return f"{share}  (too few)"
    return f"{share}  ({alike.low * 100:.0f}-{alike.high * 100:.0f})"


def _criteria(criteria: Sequence[OfCriterion], bounds: Mapping[str, Bounds]) -> list[str]:
    from standfast.cli.words import wrapped

    rows = [
        (one.criterion, told(one.alike), str(one.alike.n), str(one.marks), one.word)
        for one in criteria
    ]
    lines = show.table(rows, ("criterion", "alike", "lessons", "marks", ""))
    behind = [(_starred(one), *_figures(one, bounds)) for one in criteria if one.figures]
    if behind:
        lines += ["", *show.table(behind, ("beyond chance", *KINDS))]
    if any(one.misleading for one in criteria):
        lines += wrapped(KAPPA_MISLEADS)
    return lines


KAPPA_MISLEADS = (
    "* kappa misleads: nearly every mark is one level, so much of the agreement is put down to"
    " chance; AC and the share alike tell more (--json says it of each)"
)


KINDS = {"kappa": "kappa", "AC": "gwet_ac", "alpha": "krippendorff_alpha", "ICC(2,1)": "ICC(2,1)"}
"""The columns of what is beyond chance, and what tells each by its name."""


def _starred(one: OfCriterion) -> str:
    return f"{one.criterion} *" if one.misleading else one.criterion


def _figures(one: OfCriterion, bounds: Mapping[str, Bounds]) -> tuple[str, ...]:
    """Each kind of figure, empty where it is not there; AC with its bounds."""
    sure = bounds[one.criterion].figures if one.criterion in bounds else {}
    known = {}
    for figure in one.figures:
        known[figure.name] = f"{figure.value:5.2f}"
        again = sure.get(figure.name)
        if KINDS["AC"] in figure.name and again:
            known[figure.name] += f"  ({again.low:.2f}-{again.high:.2f})"
    return tuple(next((v for k, v in known.items() if key in k), "") for key in KINDS.values())


def _pairs(found: Comparison) -> list[str]:
    names = found.marks.names
    rows = [
        (f"{names[one.first]}, {names[one.second]}", told(one.alike), str(one.alike.n), _sided(one))
        for one in found.pairs
    ]
    return show.table(rows, ("two assessors", "alike", "lessons", "the first gave"))


def _sided(one: OfPair) -> str:
    if one.sided is None:
        return ""
    star = " *" if one.sided.stands_out else ""
    return f"less in {one.sided.lower}, more in {one.sided.higher}{star}"


def _habits(found: Comparison) -> list[str]:
    """A table for each habit of which something can be said."""
    habits = found.habits
    halo, middle = ([o for o in w if o.stands_out] for w in (habits.halo, habits.central_tendency))
    tables = (
        ("beside the others", habits.severity, ("lower", "higher")),
        ("in a period, beside before", habits.drift, ("lower", "higher")),
        ("criteria of a sheet (halo)", halo, ("more alike", "less alike")),
        ("middle of the scale", middle, ("nearer", "farther")),
    )
    lines: list[str] = []
    for title, which, words in tables:
        if which:
            rows = [_habit(one, found, words) for one in which]
            lines += [*show.table(rows, (title, "% of the scale", "lessons", "")), ""]
    return [*lines, *_not_seen(found)]


def _not_seen(found: Comparison) -> Iterator[str]:
    """The habits that nobody has, or of which nothing can be said."""
    habits = found.habits
    for words, which in (
        ("lower or higher than the others", habits.severity),
        ("drift", habits.drift),
        ("halo, criteria of a sheet too alike", habits.halo),
        ("keeping to the middle of the scale", habits.central_tendency),
    ):
        if not which:
            yield f"{words}: nobody has enough shared lessons to tell"
        elif not any(one.stands_out for one in which):
            yield f"{words}: nobody, beyond chance and plain severity"


def _habit(one: Habit, found: Comparison, words: tuple[str, str]) -> tuple[str, str, str, str]:
    mean = one.mean
    value, low, high = (round(part * 100) for part in (mean.value, mean.low, mean.high))
    bounds = f"{value:+4d}  ({low:+d} to {high:+d})"
    word = f"{words[mean.value > 0]} *" if one.stands_out else ""
    name = found.marks.names[one.assessor]
    return (f"{name}, {one.period}" if one.period else name, bounds, str(mean.n), word)


def value_of(found: Comparison) -> dict[str, Any]:
    """The same as JSON values."""
    from standfast.desk.in_step import NO_PROOF, three_sentences

    whether, standing_out, following = three_sentences(found)
    habits = found.habits
    return {
        "in_step": found.word,
        "says": {"whether": whether, "stands_out": standing_out, "next": following},
        "source": found.marks.source,
        "assessors": dict(found.marks.names),
        "lessons": found.all_lessons,
        "lessons_scored_by_two": found.lessons,
        "alike": asdict(found.alike),
        "criteria": [
            {
                "criterion": one.criterion,
                "marks": one.marks,
                "word": one.word,
                "alike": asdict(one.alike),
                "figures": [asdict(figure) for figure in one.figures],
                "left_out": list(one.left_out),
                "bootstrap": _bounds(found, one),
                "kappa_misleads": one.misleading,
                "wording": wording.value_of(one.wording),
            }
            for one in found.criteria
        ],
        "pairs": list(_pair_values(found.pairs)),
        "habits": {
            "severity": _habit_values(habits.severity),
            "drift": _habit_values(habits.drift),
            "halo": _habit_values(habits.halo),
            "central_tendency": _habit_values(habits.central_tendency),
            "shifted": [one.assessor for one in habits.shifted],
            "drifted": [one.assessor for one in habits.drifted],
        },
        "tries_and_looks": observed.value_of(found),
        **sources.value_of(found),
        **severity.value_of(found),
        "caution": NO_PROOF,
    }


def _bounds(found: Comparison, one: OfCriterion) -> dict[str, Any]:
    """Each figure's bounds by drawing lessons again, and why others have none."""
    bounds = found.bounds.get(one.criterion)
    if bounds is None:
        return {"figures": [], "left_out": []}
    figures = [asdict(figure) for figure in bounds.figures.values()]
    return {"figures": figures, "left_out": list(bounds.left_out)}


def _pair_values(pairs: Sequence[OfPair]) -> Iterator[dict[str, Any]]:
    for one in pairs:
        sided = None
        if one.sided:
            sided = {**asdict(one.sided), "stands_out": one.sided.stands_out}
        yield {
            "first": one.first,
            "second": one.second,
            "alike": asdict(one.alike),
            "sided": sided,
        }


def _habit_values(habits: Sequence[Habit]) -> list[dict[str, Any]]:
    return [
        {
            "assessor": one.assessor,
            "difference": asdict(one.mean),
            "p_adjusted": one.p,
            "stands_out": one.stands_out,
            **({"period": one.period} if one.period else {}),
        }
        for one in habits
    ]
