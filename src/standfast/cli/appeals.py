"""Commands about appeals and complaints: appeal, complain, answer, appeals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import options, show
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.desk.appeals import Filed, Listed
    from standfast.model.appeal import AppealOutcome

Because = Annotated[
    str,
    typer.Option(help="Why, naming nobody; it stands in the history, on no paper."),
]


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    app.command(
        epilog=options.example(
            "standfast appeal lucia-ferreyra-quinones --against low-trapeze-1 --on 2026-11-20"
            ' --because "one try was counted that was not hers"'
        )
    )(appeal)
    app.command(
        epilog=options.example(
            "standfast complain LT1-2026-0010 --on 2026-11-20"
            ' --because "taught without a mat on 2 November"'
        )
    )(complain)
    app.command(
        epilog=options.example(
            "standfast answer appeal-2026-2 --decider ruben-van-den-oetelaar --upheld"
            ' --on 2026-11-20 --because "the treatment has ended"'
        )
    )(answer)
    app.command(epilog=options.example("standfast appeals --on 2026-11-20"))(appeals)


def appeal(
    who: Annotated[str, typer.Argument(metavar="PERSON", help="Who appeals.")],
    against: Annotated[
        str,
        typer.Option(
            help="A certificate's number, the entry of a decision or ruling, or a rubric: then the"
            " newest decision under it."
        ),
    ],
    because: Because,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Enter an appeal of a candidate or holder.

    Against a decision, an award, or what was ruled of it. Until it is answered everything stands
    as it is.
    """
    from standfast.desk import appeals as desk_of
    from standfast.desk.people import enter_files

    with options.desk(folder, on, by) as desk:
        enter_files(desk)
        filed = desk_of.appeal(desk, who, against, because)
    _say_filed(filed, as_json=as_json)


def complain(
    about: Annotated[
        str,
        typer.Argument(metavar="ABOUT", help="A person, a certificate's number, or a practical."),
    ],
    because: Because,
    who: Annotated[
        str | None,
        typer.Option(
            "--from", metavar="WHO", help="Who complains; somebody from outside when left out."
        ),
    ] = None,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Enter a complaint about a person, an award or a practical.

    Who complains from outside the school's people is not named anywhere: keep the letter itself.
    """
    from standfast.desk import appeals as desk_of
    from standfast.desk.people import enter_files

    with options.desk(folder, on, by) as desk:
        enter_files(desk)
        filed = desk_of.complain(desk, about, who, because)
    _say_filed(filed, as_json=as_json)


ANSWERING = "--decider WHO --upheld or --not-upheld --because WHY"


def _say_filed(filed: Filed, *, as_json: bool) -> None:
    one = filed.listed
    text = [
        f"{one.appeal.number} about {one.about}, {one.against}: received {one.appeal.received}",
        f"  to be answered by {one.appeal.due_by}, that day included, by somebody who took no part",
        f"next: standfast answer {one.appeal.number} {ANSWERING}",
    ]
    show.answer(text, {**_value(one), "entry": filed.entry}, as_json=as_json)


def answer(
    number: Annotated[
        str, typer.Argument(metavar="APPEAL", help="Its number, such as appeal-2026-1.")
    ],
    decider: Annotated[str, typer.Option(help="Who decides it, and took no part in the matter.")],
    because: Because,
    upheld: Annotated[
        bool | None,
        typer.Option("--upheld/--not-upheld", help="The outcome, one of the two.  [required]"),
    ] = None,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Answer an appeal or a complaint.

    It changes nothing by itself: what follows from it is said, and done with its own command.
    """
    from standfast.cli import words
    from standfast.desk import appeals as desk_of
    from standfast.desk.people import enter_files

    if upheld is None:
        raise StandfastError("say how it was decided: --upheld or --not-upheld")
    with options.desk(folder, on, by or decider) as desk:
        enter_files(desk)
        outcome: AppealOutcome = "upheld" if upheld else "not upheld"
        answered = desk_of.answer(desk, number, decider, outcome, because)
    one = answered.listed
    text = [
        f"{one.appeal.number} about {one.about}, {one.against}: {one.state}",
        f"  answered by {answered.decider.name} on {one.answer.on if one.answer else ''}",
        "next:",
        *(line for step in answered.next_steps for line in words.wrapped(step, "    ", "  - ")),
    ]
    value = {**_value(one), "next_steps": answered.next_steps, "entry": answered.entry}
    show.answer(text, value, as_json=as_json)


def appeals(
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_known: options.AsKnown = None,
    as_json: options.Json = False,
) -> None:
    """List appeals and complaints, the open ones first."""
    from standfast.cli import words
    from standfast.desk import appeals as desk_of

    with options.question(folder, options.When(on, as_known)) as known:
        found, day = desk_of.appeals(known.desk), known.desk.today
    waiting = [one for one in found if one.answer is None]
    late = sum(one.state == "overdue" for one in waiting)
    rows = [
        (one.appeal.number, str(one.appeal.received), _until(one), one.about, one.against)
        for one in found
    ]
    head = ("number", "received", "state", "about", "against")
    text = [f"on {day}: {len(waiting)} open, {late} of them overdue, {len(found)} in all"]
    text += words.within(rows, head) if rows else []
    show.answer(text, {"on": day, "appeals": [_value(one) for one in found]}, as_json=as_json)


def _until(one: Listed) -> str:
    if one.answer:
        return f"{one.state} on {one.answer.on}"
    if one.days_left < 0:
        return f"overdue since {one.appeal.due_by}"
    return f"open, {show.counted(one.days_left, 'day')} left"


def _value(one: Listed) -> dict[str, Any]:
    return {
        "number": one.appeal.number,
        "kind": one.appeal.kind,
        "state": one.state,
        "received": one.appeal.received,
        "due_by": one.appeal.due_by,
        "days_left": one.days_left if one.answer is None else None,
        "answered": one.answer.on if one.answer else None,
        "about": one.appeal.about,
        "name": one.about,
        "against": one.against,
    }
