"""A day of practicals as a form: what was typed becomes the document that a file would be.

So a day that was typed is read, checked and planned as one from a file; only where something
stands is the name of a field and no line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from standfast.files.plan import as_plan
from standfast.files.read import Document, Placed
from standfast.model.people import Person
from standfast.model.plan import AskedDay
from standfast.problems import BadInput, Path, Place, Problem, nearest

ROWS, MORE_ROWS = 8, 4
"""For candidates: so many at the least, and so many that are still empty."""
FIRST = {
    "slots": "09:00-10:00\n10:15-11:15\n11:30-12:30\n13:30-14:30",
    "rooms": "1",
    "double": "0.5",
    "linked": "yes",
    "trainers": "beside",
}
"""What stands in the fields before anybody typed: a day to begin with, ours, no source."""


@dataclass(frozen=True)
class Wishes:
    """What stands in the fields, and whom it can be about."""

    typed: Mapping[str, str]
    scoring: Sequence[Person] = ()
    """Who is approved to score that day."""
    people: Sequence[Person] = ()
    """Everybody with a name."""

    @property
    def sent(self) -> bool:
        """Whether the day was asked for, and not only the form."""
        return "slots" in self.typed

    def of(self, name: str) -> str:
        """What stands in that field."""
        return self.typed.get(name, "" if self.sent else FIRST.get(name, "")).strip()

    @property
    def rows(self) -> range:
        """The rows for candidates."""
        numbers = (re.fullmatch(r"candidate-([1-9]\d?)", name) for name in self.typed)
        filled = [int(found[1]) for found in numbers if found and self.of(found[0])]
        return range(1, max(ROWS, max(filled, default=0) + MORE_ROWS) + 1)

    def comes(self, assessor: str) -> bool:
        """Whether that assessor is there on the day."""
        return self.of(f"comes-{assessor}") != "no"

    @cached_property
    def called(self) -> Mapping[str, str]:
        """What each person is called in the fields: the name, or the id where two have it."""
        names = [who.name for who in self.people]
        return {who.id: who.name if names.count(who.name) == 1 else who.id for who in self.people}

    def asked(self) -> Placed[AskedDay]:
        """The day as it is wished; where something stands is the name of its field.

        Raises:
            BadInput: every field that does not fit.
        """
        problems: list[Problem] = []
        value, places = self._document(problems)
        try:
            placed = as_plan(Document("the form", value, places, {}))
        except BadInput as error:
            raise BadInput([*problems, *error.problems]) from None
        if problems:
            raise BadInput(problems)
        return placed

    def _document(self, problems: list[Problem]) -> tuple[dict[str, Any], dict[Path, Place]]:
        value: dict[str, Any] = {"plan": self.of("rubric"), "apart": []}
        value |= {name: self.of(name) for name in ("day", "rubric", "trainers")}
        value |= {name: _number(self.of(name)) for name in ("rooms", "spread") if self.of(name)}
        value |= {"double": _share(self.of("double")), "linked": self.of("linked") == "yes"}
        value["slots"] = list(self._slots(problems))
        places: dict[Path, Place] = {(): Place("the form")}
        places |= {(name,): Place(name) for name in value}
        places["plan",] = Place("rubric")
        value["assessors"] = self._assessors(places, problems)
        value["candidates"] = self._candidates(value["apart"], places, problems)
        return value, places

    def _slots(self, problems: list[Problem]) -> Iterator[dict[str, str]]:
        lines = [line.strip() for line in self.of("slots").splitlines() if line.strip()]
        if not lines:
            cure = "write a line such as 09:00-10:00"
            problems.append(Problem(Place("slots"), "no slot is there", cure))
        for number, line in enumerate(lines, 1):
            found = re.fullmatch(r"(\S+?)\s*(?:[-\u2013]|to)\s*(\S+)", line)
            if found is None:
                cure = "write when it begins and ends, such as 09:00-10:00"
                problems.append(Problem(Place("slots"), f"'{line}' is no slot", cure))
            else:
                begins, ends = (time.zfill(5) for time in found.groups())  # 9:00 is 09:00
                yield {"slot": f"slot-{number}", "begins": begins, "ends": ends}

    def _assessors(
        self, places: dict[Path, Place], problems: list[Problem]
    ) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = []
        places["assessors",] = Place("assessors")
        for number, who in enumerate(self.scoring, 1):
            if not self.comes(who.id):
                continue
            one: dict[str, Any] = {"assessor": who.id, **self._free(f"free-{who.id}")}
            if most := self.of(f"most-{who.id}"):
                one["most"] = _number(most)
            for path in ((), ("free",), ("most",)):
                places["assessors", len(found), *path] = Place(f"assessor {number}")
            found.append(one)
        if not found:
            cure = "let somebody come"
            problems.append(Problem(Place("assessors"), "nobody comes to score", cure))
        return found

    def _candidates(
        self, apart: list[dict[str, str]], places: dict[Path, Place], problems: list[Problem]
    ) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = []
        ids = {called.casefold(): who for who, called in self.called.items()} | {
            who: who for who in self.called
        }
        places["candidates",] = Place("candidates")
        if not any(self.of(f"candidate-{row}") for row in self.rows):
            problems.append(Problem(Place("candidates"), "nobody is to teach", "name somebody"))
        for row in self.rows:
            typed, place = self.of(f"candidate-{row}"), Place(f"candidate {row}")
            if not typed:
                continue
            who = ids.get(typed.casefold()) or ids.get("-".join(typed.casefold().split()))
            if who is None:
                what = f"nobody is '{typed}' in the record book"
                problems.append(Problem(place, what, nearest(typed, self.called.values())))
                continue
            for path in ((), ("free",), ("candidate",)):
                places["candidates", len(found), *path] = place
            found.append({"candidate": who, **self._free(f"only-{row}")})
            if other := self.of(f"apart-{row}"):
                places["apart", len(apart)] = place
                because = "as this day asks"
                apart.append({"assessor": other, "candidate": who, "because": because})
        return found

    def _free(self, name: str) -> dict[str, list[str]]:
        """The slots of a field, by their numbers; nothing said is the whole day."""
        words = [word for word in re.split(r"[\s,;]+", self.of(name)) if word]
        numbers = [f"slot-{word}" if word.isdecimal() else word for word in words]
        return {"free": numbers} if numbers else {}


def _number(text: str) -> int | str:
    """The number, or what was typed instead, to be said of it."""
    return int(text) if re.fullmatch(r"\d{1,9}", text, re.ASCII) else text


def _share(text: str) -> float | str:
    return float(text) if re.fullmatch(r"[01](\.\d{1,3})?", text, re.ASCII) else text
