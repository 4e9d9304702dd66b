"""The command `standing`: how awards stand on a day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import options, show
from standfast.model.caution import CAUTION

if TYPE_CHECKING:
    from standfast.desk.knowing import Known
    from standfast.desk.standings import Stands


def add_to(app: typer.Typer) -> None:
    """Adds the command."""
    app.command(epilog=options.example("standfast standing ines-carvalho-teles --on 2026-12-31"))(
        standing
    )


def standing(
    who: Annotated[
        str | None,
        typer.Argument(help="A person, or a certificate's number; everybody when left out."),
    ] = None,
    rubric: Annotated[str | None, typer.Option(help="Only awards under this rubric.")] = None,
    site: Annotated[str | None, typer.Option(help="Only people of this site.")] = None,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_known: options.AsKnown = None,
    as_json: options.Json = False,
) -> None:
    """Say how awards stand on a day.

    Past or future: the state, why, and the next day that matters.  Asked about the past, the book
    answers as it stood then.
    """
    from standfast.cli import words
    from standfast.desk.standings import standings

    with options.question(folder, options.When(on, as_known)) as known:
        found = standings(known.desk, who, rubric=rubric, site=site)
    text = _table(known, found) if who is None else _each(known, found)
    text += ["", *words.wrapped(CAUTION)]
    show.answer(text, _value(known, found), as_json=as_json)


def _head(known: Known) -> str:
    knowledge = f", as the book stood on {known.until}" if known.until else ""
    return f"{known.desk.today}{knowledge}"


def _each(known: Known, found: Sequence[Stands]) -> list[str]:
    from standfast.cli import words

    lines = [f"{found[0].holder.name}, on {_head(known)}"]
    for one in found:
        award, told = one.award, one.standing
        lines += ["", f"{award.scope.title}, {award.number}: {told.state.upper()}"]
        lines += words.wrapped(told.because, "    ", "  because: ")
        if told.until:
            lines.append(f"  until: {told.until}")
        if told.limit:
            lines += words.wrapped(told.limit, "    ", "  in grace: ")
        if told.next_day:
            lines += words.wrapped(f"{told.next_day}: {told.next_because}", "    ", "  next day: ")
        if told.next_step:
            lines += words.wrapped(told.next_step, "    ", "  to do: ")
        lines.append(f"  ends: {told.ends} ({told.ends_by})")
        if one.reduced:
            without = "; ".join(one.without)
            reduced = f"since {one.reduced.since}, {without} taken away"
            lines += words.wrapped(reduced, "    ", "  reduced: ")
    return lines


def _table(known: Known, found: Sequence[Stands]) -> list[str]:
    from standfast.cli import words

    counts = Counter(one.standing.state for one in found)
    told = ", ".join(f"{number} {state}" for state, number in counts.items())
    lines = [f"{_head(known)}: {told or 'no award stands'}"]
    if found:
        head = ("who", "certificate", "stands", "next day", "what then, or why not")
        lines += ["", *words.within([_row(one) for one in found], head)]
        lines += ["", "what to do about one: standfast standing CERTIFICATE"]
    return lines


def _row(one: Stands) -> tuple[str, ...]:
    """For an award that does not count, why not: the next day may change nothing for it."""
    from standfast.cli import words
    from standfast.model.award import COUNTING

    told = one.standing
    counts = told.state in COUNTING and told.next_day is not None
    then = told.next_because.partition(",")[0]  # the first clause is enough for a list
    day, why = (str(told.next_day), then) if counts else ("", told.because)
    stands = told.state + (", reduced" if one.reduced else "")
    return (words.cut(one.holder.name), one.award.number, stands, day, why)


def _value(known: Known, found: Sequence[Stands]) -> dict[str, Any]:
    return {
        "on": str(known.desk.today),
        "as_known": str(known.until or known.desk.calendar_day),
        "caution": CAUTION,
        "awards": [
            {
                "person": one.holder.id,
                "name": one.holder.name,
                "site": one.holder.site,
                "certificate": one.award.number,
                "rubric": one.award.rubric.id,
                "award": one.award.scope.title,
                **one.standing.model_dump(mode="json"),
                "reduced": one.reduced.model_dump(mode="json") if one.reduced else None,
            }
            for one in found
        ],
    }
