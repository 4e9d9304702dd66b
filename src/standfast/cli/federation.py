"""The commands `federation`: what schools share with each other, and the sums over all of them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import listing, options, show
from standfast.cli.book import Owner
from standfast.cli.words import wrapped
from standfast.model.caution import CAUTION
from standfast.model.federation import SHARES, SMALLEST, Shared
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.desk.federation import Seen
    from standfast.desk.grouped import GroupedCriterion
    from standfast.store.federation import AwardCount

app = typer.Typer(
    cls=listing.Listed,
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Share counts with other schools of one database, and see the sums.",
    epilog=options.example("standfast federation agree"),
)

LEAVES = (
    f"Sums alone leave the school, over all who share; a group of fewer than {SMALLEST} awards is"
    " in none, and no name ever is. Marks go in lots of whole months, each of"
    f" {SMALLEST} candidates or more whom two assessors saw; where only two assessors work, they"
    " tell of these two. It takes effect where several schools keep their books in one PostgreSQL"
    " database."
)


@app.command(epilog=options.example("standfast federation agree"))
def agree(
    what: Annotated[
        list[str] | None,
        typer.Option(
            "--what",
            metavar="WHAT",
            help="awards or agreement; both when left out; may be given again.",
        ),
    ] = None,
    folder: options.Folder = options.HERE,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Enter that the school takes part, and what of it is in the sums.

    Counts of awards by rubric and quarter; how far assessors mark alike, by criterion.
    """
    _share(tuple(map(_known, what)) if what else SHARES, folder, by, as_json=as_json)


@app.command(epilog=options.example("standfast federation withdraw"))
def withdraw(
    folder: options.Folder = options.HERE,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Enter that the school takes part no more; from then on no sum has it in it."""
    _share((), folder, by, as_json=as_json)


def _known(text: str) -> Shared:
    for one in SHARES:
        if one == text:
            return one
    raise StandfastError(f"--what {text}: say awards or agreement")


def _share(
    shares: tuple[Shared, ...], folder: options.Folder, by: str | None, *, as_json: bool
) -> None:
    from standfast.desk.federation import share

    with options.desk(folder, None, by) as desk:
        entry = share(desk, shares)
        name, roles = desk.school.name, desk.book.may_ask()
    said = f"shares {' and '.join(shares)}" if shares else "shares nothing"
    text = [
        f"{name} {said}",
        f"  entered as {entry}" if entry else "  as before",
        f"  may ask for the sums now: {', '.join(roles) or 'nobody'}",
        *wrapped(LEAVES),
    ]
    value = {"shares": list(shares), "entry": entry, "may_ask": list(roles)}
    show.answer(text, value, as_json=as_json)


@app.command(
    epilog=options.example(
        "standfast federation admit postgresql://owner@localhost/books --role federation"
    )
)
def admit(
    address: Owner,
    role: Annotated[str, typer.Option(help="The role of the federation; it keeps no book.")],
    as_json: options.Json = False,
) -> None:
    """Let a role of the database ask for the sums; it can read nothing else there."""
    from standfast.desk.federation import admit as let_in

    let_in(address, role)
    text = [f"{role} may ask for sums over the schools that agree, and read no book"]
    show.answer(text, {"role": role}, as_json=as_json)


@app.command(
    epilog=options.example(
        "standfast federation dismiss postgresql://owner@localhost/books --role federation"
    )
)
def dismiss(
    address: Owner,
    role: Annotated[str, typer.Option(help="A role that was let in.")],
    as_json: options.Json = False,
) -> None:
    """Let a role ask for no sums any more; what it saw before cannot be taken back."""
    from standfast.desk.federation import dismiss as let_go

    let_go(address, role)
    show.answer([f"{role} may ask for no sums any more"], {"role": role}, as_json=as_json)


@app.command(
    "show", epilog=options.example("standfast federation show postgresql://federation@host/books")
)
def show_sums(
    address: Annotated[
        str,
        typer.Argument(
            metavar="ADDRESS", help="postgresql://ROLE@HOST/DATABASE, of the federation's role."
        ),
    ],
    as_json: options.Json = False,
) -> None:
    """Say who takes part, what counts and falls due over all, and how alike assessors mark."""
    from standfast.desk.federation import look

    seen = look(address)
    show.answer(_words(seen), _value(seen), as_json=as_json)


def _words(seen: Seen) -> Iterator[str]:
    found = seen.found
    yield f"taking part: {show.counted(len(found.schools), 'school')} of this database"
    yield from (f"  {school}: {', '.join(what)}" for school, what in found.schools)
    yield ""
    yield f"awards on {found.day}, by the days and documents in each book:"
    yield from _table(found.awards, quarters_from(found.day))
    yield ""
    yield "how often two assessors mark alike, least first:"
    yield from _alike(seen.agreement)
    yield from wrapped(
        f"A group of fewer than {SMALLEST} awards of one school is in no sum; - stands for none"
        " that was told. By quarter, with those in grace in the first, come only awards of schools"
        f" where no quarter has 1 to {SMALLEST - 1}. Lapsed are those that a refresher can still"
        f" mend. Marks are of months that are over, in lots of {SMALLEST} candidates or more of one"
        " school."
    )
    yield ""
    yield from wrapped(CAUTION)


def quarters_from(day: str) -> list[str]:
    """The calendar's quarter of that day, and the three after it."""
    from standfast.engine.quarters import Quarter

    now = Quarter.of(date.fromisoformat(day))
    return [f"{one.year}Q{one.number}" for one in (now.shifted(n) for n in range(4))]


def _table(counts: tuple[AwardCount, ...], quarters: list[str]) -> list[str]:
    by_rubric: dict[str, dict[str, AwardCount]] = {}
    for one in counts:
        by_rubric.setdefault(one.rubric, {})[one.quarter or one.what] = one
    columns = ("counting", "lapsed", *quarters, "later")
    rows = [
        (rubric, *(str(of[name].awards) if name in of else "-" for name in columns))
        for rubric, of in sorted(by_rubric.items())
    ]
    head = ("rubric", "count", "lapsed", *(f"due {quarter}" for quarter in quarters), "later")
    if not rows:
        return ["  no group is large enough"]
    return [*show.table(rows, head, "  "), *_fewer(by_rubric)]


def _fewer(by_rubric: dict[str, dict[str, AwardCount]]) -> Iterator[str]:
    """Says where not all that are counted are told by quarter."""
    for rubric, of in sorted(by_rubric.items()):
        whole, parts = of.get("counting"), of.get("later")
        if whole is not None and (parts is None or parts.schools < whole.schools):
            tell = 0 if parts is None else parts.schools
            yield f"  {rubric}: by quarter {tell} of {show.counted(whole.schools, 'school')}"


def _alike(agreement: tuple[GroupedCriterion, ...]) -> list[str]:
    from standfast.desk.in_step import hundred

    rows = [
        (
            one.rubric,
            one.criterion or one.kind,
            hundred(one.alike.value) + _bounds(one),
            str(one.alike.n),
            one.word,
        )
        for one in agreement
    ]
    head = ("rubric", "criterion", "alike", "lessons", "")
    return show.table(rows, head, "  ") if rows else ["  no group is large enough"]


def _bounds(one: GroupedCriterion) -> str:
    low, high = one.alike.low, one.alike.high
    return "" if low is None or high is None else f" ({low * 100:.0f} to {high * 100:.0f})"


def _value(seen: Seen) -> dict[str, Any]:
    found = seen.found
    return {
        "on": found.day,
        "schools": [{"school": school, "shares": list(what)} for school, what in found.schools],
        "awards": [
            {
                "rubric": one.rubric,
                "what": one.what,
                "quarter": one.quarter,
                "awards": one.awards,
                "schools": one.schools,
            }
            for one in found.awards
        ],
        "agreement": [
            {
                "rubric": one.rubric,
                "kind": one.kind,
                "criterion": one.criterion,
                "pairs": one.marks,
                "lessons": one.alike.n,
                "alike": one.alike.value,
                "low": one.alike.low,
                "high": one.alike.high,
                "word": one.word,
                "figures": {figure.name: figure.value for figure in one.figures},
            }
            for one in seen.agreement
        ],
        "smallest_group": SMALLEST,
        "caution": CAUTION,
    }
