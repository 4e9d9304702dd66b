"""Entering people and settings from the school's files into its record book."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.honouring import enter_transitions
from standfast.desk.opening import Desk
from standfast.engine.impartiality import tied
from standfast.engine.naming import named_in
from standfast.engine.people import faults_in_person
from standfast.model.base import LONGEST_TEXT
from standfast.model.canonical import content_hash
from standfast.model.people import Document, Person
from standfast.problems import BadInput, NotFound, Problem, Refused, StandfastError

if TYPE_CHECKING:
    from standfast.files.read import Placed
    from standfast.model.rubric import Rubric


@dataclass(frozen=True)
class Entered:
    """What entering the files changed in the book."""

    new: tuple[str, ...]
    changed: tuple[str, ...]
    same: int
    versions: tuple[str, ...] = ()
    """Rubric versions with a transition that the book did not know yet."""


def enter_files(desk: Desk, files: Sequence[Path] = (), read: int | None = None) -> Entered:
    """Enters settings and people: those of the files named, else those of the school's folder.

    With them the rubric versions that say what becomes of awards under earlier ones.  Everybody who
    is new or changed is entered, or nobody.  With `read`, how many entries the book had when
    somebody looked, nobody is changed who was changed since.

    Raises:
        BadInput: a file has faults; nothing was entered.
        NotFound: a trainer is neither in the book nor in the files.
        Refused: somebody was changed since, or erased, so that a name could come back.
    """
    people = _of_files(desk, files) if files else _of_folder(desk)
    with desk.book.together():
        if read is not None:
            _refuse_changed(desk, people, read)
        desk.book.put_school(desk.school, desk.stamp())
        return replace(enter(desk, people), versions=enter_transitions(desk))


def _refuse_changed(desk: Desk, people: Iterable[Person], read: int) -> None:
    known = {person.id: person for person in desk.book.people()}
    since = desk.book.people_since(read)
    changed = [one.id for one in people if one.id in since and known[one.id] != one]
    new = [one.id for one in people if one.id not in known]
    faults = [f"{slug} was changed since; look at the record" for slug in changed]
    if since - known.keys() and new:
        faults.append(f"somebody was erased since; see that none of these is: {', '.join(new)}")
    if faults:
        again = "where the file is right, send it once more"
        raise Refused("nothing was entered: the page was opened earlier", [*faults, again])


def _of_folder(desk: Desk) -> list[Person]:
    """The people of the school's files; a fault in a rubric does not keep them out."""
    rubrics = desk.root / "rubrics"
    problems = [
        p for p in desk.definitions.problems if not Path(p.place.file).is_relative_to(rubrics)
    ]
    return _sound(desk, desk.definitions.people, problems)


def _of_files(desk: Desk, files: Sequence[Path]) -> list[Person]:
    from standfast.files.candidates import read_people, twice

    problems: list[Problem] = []
    found: list[Placed[Person]] = []
    for file in files:
        try:
            found.extend(read_people(file))
        except BadInput as error:
            problems.extend(error.problems)
    problems.extend(twice(found))
    return _sound(desk, found, problems)


def _sound(desk: Desk, found: Sequence[Placed[Person]], problems: list[Problem]) -> list[Person]:
    """The people, when there is no problem with them, neither one known already nor another."""
    from standfast.files.read import problems_at

    rubrics = _rubrics(desk)
    for placed in found:
        problems.extend(problems_at(placed, faults_in_person(placed.noun, rubrics)))
    if problems:
        raise BadInput(sorted(problems))
    return [placed.noun for placed in found]


def _rubrics(desk: Desk) -> list[Rubric]:
    return [placed.noun for placed in desk.definitions.rubrics]


def enter(desk: Desk, people: Iterable[Person]) -> Entered:
    """Enters those of the people who are new or changed, all of them or none."""
    wanted = {person.id: person for person in people}
    known = {person.id: person for person in desk.book.people()}
    new = tuple(sorted(wanted.keys() - known.keys()))
    changed = tuple(sorted(i for i in wanted.keys() & known.keys() if wanted[i] != known[i]))
    desk.book.put_people([wanted[i] for i in (*new, *changed)], desk.stamp)
    return Entered(new, changed, len(wanted) - len(new) - len(changed))


def add_document(desk: Desk, wanted: str, document: Document, read: int) -> None:
    """Enters a document that the person showed.

    `read` is how many entries the book had when the form was filled in: a form that comes again is
    done already, and one whose document was taken out since does not bring it back.

    Raises:
        NotFound: nobody of that slug is in the book.
        Refused: it ends before it is issued, is there already, is misspelt, its year cannot be, or
            the person was changed since.
    """
    with desk.book.together():
        who = person(desk, wanted)
        if not _done(desk, who, document, read):
            enter(desk, [_with_document(desk, who, len(who.documents), document)])


def correct_document(
    desk: Desk, wanted: str, was: str, document: Document, because: str, read: int
) -> None:
    """Enters a document anew that was entered wrongly; `was` is the hash of what stands there.

    `read` is as for a new one.

    Raises:
        NotFound: nobody of that slug is in the book.
        Refused: no such document stands there, nothing is other, or as for a new one.
        StandfastError: no reason, or too long a one.
    """
    check_because(desk, because)
    with desk.book.together():
        who = person(desk, wanted)
        if _done(desk, who, document, read):
            return
        found = [n for n, one in enumerate(who.documents) if content_hash(one) == was]
        if not found:
            why = "what was to be corrected does not stand there any more; look at what does"
            raise Refused("nothing was entered", [why])
        changed = _with_document(desk, who, found[0], document)
        desk.book.correct_person(changed, because.strip(), desk.stamp())


def _done(desk: Desk, who: Person, document: Document, read: int) -> bool:
    """Whether the form with that document came before, and it stands there.

    Raises:
        Refused: the person was changed since the page of the form was read, in another way.
    """
    if who.id not in desk.book.people_since(read):
        return False
    if document not in who.documents:
        raise Refused(
            "nothing was entered",
            [f"{who.id} was changed since the page was read; look, and send it once more"],
        )
    return True


def _with_document(desk: Desk, who: Person, n: int, document: Document) -> Person:
    """The person with that document in the place `n` of hers."""
    days = _days_that_can_be(desk, document)
    if days:
        raise Refused("nothing was entered", days)
    if document in who.documents:
        raise Refused("nothing was entered", ["the same document is there already"])
    documents = (*who.documents[:n], document, *who.documents[n + 1 :])
    changed = who.model_copy(update={"documents": documents})
    own = ("documents", n)
    faults = [f for f in faults_in_person(changed, _rubrics(desk)) if f.path[:2] == own]
    if faults:
        raise Refused("nothing was entered", [f"{fault.what}; {fault.cure}" for fault in faults])
    return changed


OLDEST_YEAR = 1900
"""No source: nobody's paper of today is older."""
MOST_YEARS_AHEAD = 50
"""No source: what ends later has a slip in its year."""


def _days_that_can_be(desk: Desk, document: Document) -> list[str]:
    """What is wrong with the days of a document that somebody types; a slip is in the year."""
    latest = desk.today.year + MOST_YEARS_AHEAD
    return [
        f"{word}: {day} cannot be the day of such a paper; mend the year, from"
        f" {OLDEST_YEAR} to {latest}"
        for word, day in (("issued", document.issued), ("last day", document.last_day))
        if not OLDEST_YEAR <= day.year <= latest
    ]


def not_entered(desk: Desk) -> tuple[str, ...]:
    """The people whose files say something that the book does not know yet."""
    known = {person.id: person for person in desk.book.people()}
    return tuple(p.noun.id for p in desk.definitions.people if known.get(p.noun.id) != p.noun)


def person(desk: Desk, wanted: str) -> Person:
    """The person of that slug, as the book knows them.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    found = desk.book.find_person(wanted)
    if found is None:
        known = [known.id for known in desk.book.people()]
        raise NotFound("person in the record book", wanted, known)
    return found


def tie_refused(desk: Desk, one: Person, other: Person) -> bool:
    """Whether a conflict of interest of the two keeps one from judging the other on this day."""
    return desk.school.conflict_of_interest == "refused" and tied(one, other, desk.today)


def check_because(desk: Desk, text: str) -> None:
    """Returns when these words may stand in the record book as a reason.

    Raises:
        StandfastError: there are none, or too many.
        Refused: they name somebody of the book, and would outlive the name's erasure.
    """
    length = len(text.strip())
    if not length:
        raise StandfastError("no reason is given; say why in a sentence (--because)")
    if length > LONGEST_TEXT:
        raise StandfastError(
            f"the reason has {length} characters, and {LONGEST_TEXT} are the most; say it shorter,"
            " and keep the letter itself"
        )
    if found := named_in(text, desk.book.people()):
        raise Refused(
            "a reason stays in the record book, also after a name is erased:",
            [f"it names {who}; say for example 'the holder'" for who in found],
        )


def name_of(desk: Desk, wanted: str) -> str:
    """The name to show for a slug or opaque id; the slug itself when nobody has it."""
    found = desk.book.find_person(wanted)
    return found.name if found else wanted
