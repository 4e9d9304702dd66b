"""What the record book holds about one person, for her to have, without what is others'.

Named are those who did something to her in their office: trained, scored, decided, ruled, answered.
She needs to know who, to object, and it stands on the papers that she was given.  Everybody else is
a role: who complained, who is tied to her, whom she scored (GDPR 15(4) asks that a copy takes
nothing from others; where the line runs is the school's to ask its own counsel).
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from standfast.desk.copying import made_whole
from standfast.desk.history import says
from standfast.desk.opening import Desk
from standfast.desk.people import name_of, person
from standfast.model.base import Noun, NounT, rename_people
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.model.people import Person
    from standfast.store.bodies import Body
    from standfast.store.book import Event

JSON_FILE, TEXT_FILE = "person-data.json", "person-data.txt"

ANOTHER, COMPLAINED, TIED, SCHOOL = "another-person", "who-complained", "who-is-tied", "the-school"
"""Stand where somebody else's slug stood."""

ASK = "ask your own counsel"
"""The legal basis: no program knows it."""

PURPOSES = (
    ("identity", "name, contact and site", "to say whom a paper is about, and to reach you"),
    ("known_now", "documents, training, approvals, ties", "to keep decisions fair and current"),
    ("accounts", "logins and what they are for", "to let you, and nobody else, in as you"),
    ("entries", "the record book's entries with you in them", "to show who judged on what"),
    ("records", "what was tapped beside the mat", "to make the score sheet, and to prove it"),
    ("held", "what could not be taken and names you", "for the office to look at"),
)
"""Of each kind of data what it is and what it is for; common practice, no source."""


@dataclass(frozen=True)
class PersonData:
    """Everything about one person."""

    who: str
    """Slug."""
    value: Mapping[str, Any]
    """As JSON values."""
    text: str


@dataclass(frozen=True)
class Given:
    """The files that were written."""

    files: tuple[Path, ...]
    counts: Mapping[str, int]
    """How many of each kind of data are in them."""


def give(desk: Desk, wanted: str, out: Path) -> Given:
    """Writes what the book holds about a person into a new folder.

    Raises:
        NotFound: nobody of that slug is in the book.
        StandfastError: the folder holds something already, or cannot be written.
    """
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise StandfastError(f"{out} holds something already; name a new folder with --out")
    found = data_of(desk, wanted)
    with made_whole(out) as half:
        text = json.dumps(found.value, ensure_ascii=False, indent=2) + "\n"
        (half / JSON_FILE).write_text(text, "utf-8")
        (half / TEXT_FILE).write_text(found.text, "utf-8")
    kinds = (kind for kind, _, _ in PURPOSES)
    counts = {k: len(found.value[k]) for k in kinds if isinstance(found.value[k], list)}
    return Given((out / JSON_FILE, out / TEXT_FILE), counts)


def data_of(desk: Desk, wanted: str) -> PersonData:
    """What the book holds about a person, in one state of it.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    from standfast.paper.view.words import cautions

    with desk.book.still(desk.moment.now) as still:
        here = Desk(desk.root, desk.moment, still.book)
        who = person(here, wanted)
        value = {
            "school": desk.school.name,
            "person": who.id,
            "day": desk.today.isoformat(),
            "purposes": [
                {"kind": kind, "what": what, "purpose": why, "basis": ASK}
                for kind, what, why in PURPOSES
            ],
            "identity": {"name": who.name, "contact": who.contact, "site": who.site},
            "known_now": _known(here, who),
            "accounts": _accounts(here, who.id),
            "entries": [_entry(here, event, who.id) for event in _events(here, who.id)],
            "records": _records(here, who.id),
            "held": _held(here, who.id),
            "caution": " ".join(cautions(desk.school)),
        }
    return PersonData(who.id, value, "\n".join(_lines(value)) + "\n")


def _known(desk: Desk, who: Person) -> dict[str, Any]:
    known = _plain(_relabelled(desk, who, who.id))
    return {key: part for key, part in known.items() if key not in {"name", "contact", "site"}}


def _plain(noun: Noun) -> dict[str, Any]:
    plain: dict[str, Any] = noun.model_dump(mode="json", exclude_defaults=True)
    return plain


def _accounts(desk: Desk, who: str) -> list[dict[str, Any]]:
    """Without the hashes of password and PIN, which would help only whoever guesses them."""
    return [_plain(one) for one in desk.book.access.all() if one.person == who]


def _events(desk: Desk, who: str) -> Iterator[Event]:
    """The entries that are about her, made by her, or name her."""
    for event in desk.book.history():
        if who in (event.about, event.who) or who in _people_in(event.body):
            yield event


def _people_in(noun: Noun) -> set[str]:
    found: set[str] = set()

    def seen(slug: str) -> str:
        found.add(slug)
        return slug

    rename_people(noun, seen)
    return found


def _entry(desk: Desk, event: Event, who: str) -> dict[str, Any]:
    own = event.about == who
    told = _relabelled(desk, event.body, who) if own else _others_as_roles(event.body, who)
    ties = None if own else _ties(told, who)
    entered = not own and who not in _people_in(event.body)
    return {
        "number": event.seq,
        "id": event.id,
        "at": event.at,
        "kind": event.kind,
        "part": "about you" if own else "entered by you" if entered else "names you",
        "entered_by": who if event.who == who else SCHOOL,
        "says": _ENTERED if entered else _TIE if ties else says(desk, told),
        "body": None if entered else ties or _plain(told),
    }


_ENTERED = "you entered something that does not name you"
_TIE = "you stand in what is known of somebody else"


def _relabelled(desk: Desk, noun: NounT, who: str) -> NounT:
    """What is about her: who acted in office by name, who complained or is tied by role."""
    from standfast.model.appeal import Appeal
    from standfast.model.people import Conflict

    def named(slug: str) -> str:
        return slug if slug == who else name_of(desk, slug)

    def by_role(part: object) -> object:
        if isinstance(part, Conflict):
            return part.model_copy(update={"person": TIED})
        if isinstance(part, Appeal) and part.by not in (None, who):
            return part.model_copy(update={"by": COMPLAINED})
        if isinstance(part, Noun):
            fields = {name: by_role(getattr(part, name)) for name in type(part).model_fields}
            return part.model_copy(update=fields)
        return tuple(map(by_role, part)) if isinstance(part, tuple) else part

    return cast("NounT", by_role(rename_people(noun, named)))


def _others_as_roles(body: Body, who: str) -> Body:
    return rename_people(body, lambda slug: slug if slug == who else ANOTHER)


def _ties(told: Body, who: str) -> dict[str, Any] | None:
    """What ties her to somebody else, whose documents and findings are not hers to have.

    None of entries that are not of that kind.
    """
    from standfast.store.bodies import DecisionMade, PersonSet, TakenIn

    if isinstance(told, TakenIn):
        here = [_plain(one) for one in told.record.people if one.person == who]
        return {"school": told.record.school, "people": here}
    if not isinstance(told, PersonSet | DecisionMade):
        return None
    state = told.person if isinstance(told, PersonSet) else told.inputs.candidate
    return {
        "trained_by": [_plain(tie) for tie in state.trained_by if tie.trainer == who],
        "conflicts": [_plain(tie) for tie in state.conflicts if tie.person == who],
    }


def _records(desk: Desk, who: str) -> list[dict[str, Any]]:
    return [
        {**kept.sent, "body": _role_for_others(kept.sent["body"], who)}
        for kept in desk.book.records.naming(who)
    ]


def _role_for_others(body: dict[str, Any], who: str) -> dict[str, Any]:
    """Who scored her is named on her papers; whom she scored is not hers to have."""
    if body.get("assessor") == who and body.get("candidate") != who:
        return {**body, "candidate": ANOTHER}
    return body


def _held(desk: Desk, who: str) -> list[dict[str, Any]]:
    """When and why; not the content, which nobody could read and which may name others."""
    return [
        {"number": one.key, "got": one.got, "why": one.why}
        for one in desk.book.records.held_naming(who)
    ]


# --- for reading ------------------------------------------------------------------------------


def _lines(value: Mapping[str, Any]) -> Iterator[str]:
    yield f"What the record book of {value['school']} holds about you, as of {value['day']}."
    yield f"The same, with every mark, stands in {JSON_FILE}."
    for purpose in value["purposes"]:
        kind = purpose["kind"]
        yield ""
        yield purpose["what"].upper()
        yield f"  what for: {purpose['purpose']}"
        yield f"  legal basis: {purpose['basis']}"
        yield from (f"  {line}" for line in _of_kind(kind, value[kind]))
    yield ""
    yield from _AFTERWARDS
    yield value["caution"]


def _of_kind(kind: str, told: Any) -> Iterator[str]:  # noqa: ANN401 - any JSON value
    if not told:
        yield "nothing"
    elif kind == "entries":
        for one in told:
            yield f"- {one['number']}, {one['at'][:10]} ({one['part']}): {one['says']}"
            yield from (f"    {text}" for text in dict.fromkeys(_words_in(one["body"])))
    elif kind == "records":
        sheets = dict.fromkeys(one["sheet"] for one in told)
        yield from (f"- {sum(o['sheet'] == s for o in told)} of sheet {s}" for s in sheets)
    else:
        yield from (f"- {line}" for line in _flat(told))


def _words_in(value: Any) -> Iterator[str]:  # noqa: ANN401 - any JSON value
    """What people wrote, and what was found and why; marks stand in the JSON alone."""
    if isinstance(value, dict):
        yield from (str(value[key]) for key in _WORDS if value.get(key))
        for key, part in value.items():
            if key != "findings":  # what they come to stands in the reasons
                yield from _words_in(part)
    elif isinstance(value, list):
        for part in value:
            yield from _words_in(part)


_WORDS = ("says", "note", "text", "because")


def _flat(value: Any, path: str = "") -> Iterator[str]:  # noqa: ANN401 - any JSON value
    if isinstance(value, dict):
        for key, part in value.items():
            yield from _flat(part, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list):
        for n, part in enumerate(value, start=1):
            yield from _flat(part, f"{path}.{n}" if path else str(n))
    else:
        yield f"{path}: {value}"


_AFTERWARDS = (
    "Not in here: copies of the record book, papers that were printed or given out, and files",
    "that the school keeps beside its record book.  You may ask to have what is wrong corrected",
    "and your name erased; what was seen and decided then stays, about a number that leads to",
    "nobody.",
)
