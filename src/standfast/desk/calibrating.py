"""An assessor's sheet of a reference practical, held beside the panel's in the record book."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from standfast.desk.definitions import Texts, kept
from standfast.desk.opening import Desk
from standfast.desk.people import check_because, name_of, person
from standfast.desk.references import score_reference
from standfast.engine.calibrating import LEAST_PANEL, Carried, Found, calibrate, carried
from standfast.engine.naming import naming_faults
from standfast.engine.sheets import faults_in
from standfast.engine.together import faults_beside
from standfast.model.approval import ApprovalStanding, Calibration, ReferenceScore
from standfast.model.people import Person
from standfast.model.sheet import Sheet
from standfast.problems import BadInput, Fault, NotFound, Refused, StandfastError

if TYPE_CHECKING:
    from standfast.files.read import Placed
    from standfast.store.sheets import KeptSheet


@dataclass(frozen=True)
class Calibrated:
    """What a sheet came to beside the panel's, and whether that was entered."""

    sheet: Sheet
    assessor: Person
    panel: tuple[str, ...]
    """The names of the panel."""
    found: Found
    entry: str | None = None
    standing: ApprovalStanding | None = None
    """How the approval stands since it was entered."""


def calibrate_file(
    desk: Desk, placed: Placed[Sheet], certifier: str | None = None, because: str | None = None
) -> Calibrated:
    """What the sheet of that file comes to; entered when a certifier holds the result.

    The sheet is no evidence about the candidate: it is kept in the entry of the result alone.

    Raises:
        BadInput: every contradiction with the rubric, the panel's sheets or itself, at its line.
        NotFound: no such practical in the book, assessor or certifier.
        Refused: too small a panel, the assessor is of it or was calibrated against it before, or
            every reason why the result may not be entered.
    """
    from standfast.files.read import problems_at

    sheet = placed.noun
    with desk.book.together():
        who, panel = person(desk, sheet.assessor), _panel(desk, sheet)
        texts = kept(desk, panel[0].rubric.hash, panel[0].syllabus.hash)
        if faults := [*_faults(desk, sheet, who, panel, texts)]:
            raise BadInput(problems_at(placed, faults))
        earlier = desk.book.references(who.id)
        _refuse_again(sheet, panel, earlier)
        before = carried(earlier, who.id, sheet.rubric)
        found = calibrate(texts.rubric, texts.syllabus, [one.sheet for one in panel], sheet, before)
        if not found.criteria:
            raise Refused(f"the panel agreed on no mark of {sheet.practical}; take another one")
        names = tuple(name_of(desk, one.sheet.assessor) for one in panel)
        told = Calibrated(sheet, who, names, found)
        if certifier is None:
            if because is not None:
                raise StandfastError("--because says why it is entered; name a --certifier too")
            return told
        return _entered(desk, told, panel, certifier, because)


def _panel(desk: Desk, sheet: Sheet) -> list[KeptSheet]:
    """The sheets of the practical that stand in the book, all under one text."""
    kept_sheets = desk.book.sheets(practical=sheet.practical)
    if not kept_sheets:
        known = [lesson.practical for lesson in desk.book.lessons()]
        raise NotFound("practical in the record book", sheet.practical, known)
    panel = [one for one in kept_sheets if one.rubric.hash == kept_sheets[0].rubric.hash]
    if len(panel) < LEAST_PANEL:
        raise Refused(
            f"{sheet.practical} was scored by {len(panel)}, and a panel has {LEAST_PANEL} or more;"
            " have another approved assessor score it, or take another practical"
        )
    return sorted(panel, key=lambda one: one.sheet.id)


def _faults(
    desk: Desk, sheet: Sheet, who: Person, panel: list[KeptSheet], texts: Texts
) -> Iterator[Fault]:
    """What contradicts; whether the approval ran on the day of the lesson does not matter here."""
    yield from faults_in(sheet, texts.rubric, texts.syllabus)
    if who.id == sheet.candidate:
        what = f"{who.id} is the candidate too"
        yield Fault(("assessor",), what, "take a practical of somebody else")
    others = [one.sheet for one in panel]
    yield from faults_beside(sheet.model_copy(update={"corrects": None}), others)
    if sheet.corrects:
        what = "a sheet for calibrating corrects none"
        yield Fault(("corrects",), what, "take the line away")
    if desk.book.find_sheet(sheet.id):
        what = f"sheet {sheet.id} is in the record book as evidence"
        yield Fault(("id",), what, "give it an id of its own: 'standfast key' says one")
    yield from naming_faults(sheet, desk.book.people)


def _refuse_again(
    sheet: Sheet, panel: list[KeptSheet], earlier: tuple[ReferenceScore, ...]
) -> None:
    ids = {one.sheet.id for one in panel}
    for one in earlier:
        if one.calibration and ids & set(one.calibration.panel):
            raise Refused(
                f"{sheet.assessor} was calibrated against {sheet.practical} on {one.on}, and knows"
                " what was agreed; take another practical"
            )


def _entered(
    desk: Desk, told: Calibrated, panel: list[KeptSheet], certifier: str, because: str | None
) -> Calibrated:
    if because is not None:
        check_because(desk, because)
    sheet, found = told.sheet, told.found
    calibration = Calibration(
        rubric=panel[0].rubric.hash,
        syllabus=panel[0].syllabus.hash,
        panel=tuple(one.sheet.id for one in panel),
        sheet=sheet,
        trials=found.trials,
        misses=found.misses,
        trials_before=found.carried.trials,
        misses_before=found.carried.misses,
        grave=found.grave,
    )
    scored = score_reference(
        desk,
        sheet.assessor,
        sheet.rubric,
        sheet.practical,
        found.result,
        certifier,
        "; ".join(filter(None, [in_a_sentence(found), because])),
        calibration,
    )
    return replace(told, entry=scored.entry, standing=scored.standing)


def in_a_sentence(found: Found) -> str:
    """What it comes to: marks and criteria as agreed."""
    alike, agreed = found.marks
    before = found.carried
    more = f", with {before.misses} of {before.trials} before" if before.trials else ""
    missed = f"; {len(found.grave)} missed that nobody may miss" if found.grave else ""
    return (
        f"{alike} of {agreed} marks as agreed by the panel; {found.misses} of {found.trials}"
        f" criteria otherwise{more}{missed}"
    )


@dataclass(frozen=True)
class DifferentNow:
    """A calibration that comes out otherwise when it is worked out again."""

    assessor: str
    practical: str
    what: str


def calibrate_again(desk: Desk) -> tuple[int, tuple[DifferentNow, ...]]:
    """How many calibrations were worked out again from what was kept, and those that differ."""
    count, differing = 0, []
    every = desk.book.references()
    for number, one in enumerate(every):
        if one.calibration is None:
            continue
        count += 1
        if what := _difference(desk, one, one.calibration, every[:number]):
            differing.append(DifferentNow(one.assessor, one.practical, what))
    return count, tuple(differing)


def _difference(
    desk: Desk, score: ReferenceScore, was: Calibration, earlier: tuple[ReferenceScore, ...]
) -> str:
    texts = kept(desk, was.rubric, was.syllabus)
    panel = [one.sheet for key in was.panel if (one := desk.book.find_sheet(key))]
    if len(panel) != len(was.panel):
        return "a sheet of the panel is not in the book"
    before = carried(earlier, score.assessor, score.rubric)
    found = calibrate(texts.rubric, texts.syllabus, panel, was.sheet, before)
    now = (found.result, found.trials, found.misses, found.carried, found.grave)
    then = (
        *(score.result, was.trials, was.misses),
        *(Carried(was.trials_before, was.misses_before), was.grave),
    )
    return "" if now == then else f"kept {then}, now {now}"
