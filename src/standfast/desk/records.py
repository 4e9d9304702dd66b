"""Putting a person's competency record on paper."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.awards import how_it_stands, reduction_of, titles_of
from standfast.desk.decisions import decide_for
from standfast.desk.definitions import kept
from standfast.desk.elsewhere import elsewhere
from standfast.desk.focusing import chain
from standfast.desk.honouring import rubric_text
from standfast.desk.opening import Desk
from standfast.desk.people import name_of, person
from standfast.desk.press import in_a_name, printer, save
from standfast.model.base import Reference
from standfast.model.decision import Decision
from standfast.model.rubric import Rubric
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.model.appeal import Answer, Appeal
    from standfast.paper.view.record import Held, Part, RecordView
    from standfast.store.awards import KeptAward
    from standfast.store.decisions import KeptDecision


def print_record(desk: Desk, wanted: str, out: Path) -> Path:
    """Prints a person's competency record into the folder `out`.

    Raises:
        NotFound: nobody of that slug is in the book.
        PaperError: it cannot be drawn.
    """
    page = printer(desk).print("record", record_of(desk, wanted))
    return save(out, f"record-{in_a_name(wanted)}.pdf", page)


def record_of(desk: Desk, wanted: str) -> RecordView:
    """A person's competency record in words, for paper and for the screen.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    from standfast.paper.view.record import RecordFacts, record_view

    who = person(desk, wanted)
    made = [one.decision for one in desk.book.decisions(wanted) if one.decision.on <= desk.today]
    facts = RecordFacts(
        who,
        desk.school,
        desk.today,
        tuple(_parts(desk, wanted)),
        tuple(_held(desk, wanted)),
        tuple((_title(desk, d.rubric), d) for d in made),
        lambda slug: name_of(desk, slug),
        tuple(_own_appeals(desk, wanted)),
        elsewhere(desk, wanted),
    )
    return record_view(facts)


def _own_appeals(desk: Desk, wanted: str) -> Iterator[tuple[Appeal, Answer | None]]:
    """Those of the person by the desk's day; what others complain about is not for this paper."""
    for one in desk.book.appeals(wanted):
        if one.appeal.kind == "appeal" and one.appeal.received <= desk.today:
            answered = one.answer and one.answer.on <= desk.today
            yield one.appeal, one.answer if answered else None


def _title(desk: Desk, wanted: Reference) -> str:
    rubric = rubric_text(desk, wanted.hash)
    return rubric.title if rubric else wanted.id


def _held(desk: Desk, wanted: str) -> list[Held]:
    return [_one_held(desk, one) for one in desk.book.awards(wanted, on=desk.today)]


def _one_held(desk: Desk, held: KeptAward) -> Held:
    from standfast.paper.view.record import Held

    award, *earlier = (one.award for one in chain(desk, held))
    now = reduction_of(desk, award)
    without = titles_of(desk, award, now.without if now else ())
    rulings = tuple(one for one in desk.book.rulings(award.id) if one.on <= desk.today)
    since = now.since if now else None
    return Held(award, how_it_stands(desk, award), without, since, rulings, tuple(earlier))


def _parts(desk: Desk, wanted: str) -> list[Part]:
    """For each rubric with a sheet: the last decision in the book, else one made for the paper."""
    rubrics = dict.fromkeys(
        one.sheet.rubric for one in desk.book.sheets(wanted) if one.sheet.on <= desk.today
    )
    return [part for rubric in rubrics for part in _of_rubric(desk, wanted, rubric)]


def _of_rubric(desk: Desk, wanted: str, rubric: str) -> Iterator[Part]:
    """The last decision on what the rubric asks, and a top-up that came after it."""
    made = [one for one in desk.book.decisions(wanted, rubric) if one.decision.on <= desk.today]
    if not made:
        decided = decide_for(desk, wanted, rubric)
        made_now = decided.decision
        yield _part(desk, made_now, decided.texts.rubric, kept_so=False, ahead=made_now)
        return
    top_ups = [n for n, one in enumerate(made) if one.decision.is_top_up]
    others = [n for n in range(len(made)) if n not in top_ups]
    last = sorted({*others[-1:], *(n for n in top_ups[-1:] if not others or n > others[-1])})
    later = _later(desk, wanted, rubric, made)
    for n in last:
        decision, came = made[n].decision, later if n == last[-1] else frozenset()
        text = kept(desk, decision.rubric.hash, decision.syllabus.hash).rubric
        ahead = _ahead(desk, made[n], came)
        yield _part(desk, decision, text, kept_so=True, ahead=ahead, later=came)


def _later(desk: Desk, wanted: str, rubric: str, made: Sequence[KeptDecision]) -> frozenset[str]:
    """The sheets that stand, and that no decision in the book was made from."""
    seen = {sheet for one in made for sheet in one.inputs.sheets}
    found = (one.sheet for one in desk.book.sheets(wanted, rubric))
    return frozenset(one.id for one in found if one.on <= desk.today and one.id not in seen)


def _ahead(desk: Desk, made: KeptDecision, later: Collection[str]) -> Decision | None:
    """What says what is open after a decision; None when it was awarded and nothing came since.

    A fail or a stop says what to practise, until there is newer evidence.
    """
    decision = made.decision
    if not later and decision.outcome in {"fail", "stopped"}:
        return decision
    awarded = {one.award.decision for one in desk.book.awards(decision.candidate, past=True)}
    if not later and made.entry in awarded:
        return None
    of = (desk, decision.candidate, decision.rubric.id)
    try:
        return decide_for(*of, top_up=decision.is_top_up).decision
    except Refused:  # there is nothing to top up any more
        return decide_for(*of).decision


def _part(
    desk: Desk,
    decision: Decision,
    text: Rubric,
    *,
    kept_so: bool,
    ahead: Decision | None,
    later: Collection[str] = (),
) -> Part:
    from standfast.paper.view.record import Part

    named = {*decision.sheets, *(left.sheet for left in decision.left_out), *later}
    sheets = sorted(
        (
            one.sheet
            for one in desk.book.sheets(decision.candidate, text.id, superseded=True)
            if one.sheet.id in named
        ),
        key=lambda sheet: (sheet.began, sheet.assessor),
    )
    return Part(text, decision, kept_so, tuple(sheets), ahead, len(later))
