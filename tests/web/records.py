"""Records as a device beside the mat sends them."""

from __future__ import annotations

from typing import Any

import httpx

from standfast.engine.replaying import digest

JSON = dict[str, Any]
RUBRIC = "low-trapeze-1"
SHEET = "01a1471c-3e00-7a11-8b42-000000000001"


def key(number: int) -> str:
    return f"01a1471c-3e00-7a11-8b42-{number:012x}"


def record(  # a record of the sheet
    n: int,
    *,
    sheet: str = SHEET,
    number: int | None = None,
    **body: Any,  # noqa: ANN401 - any
) -> JSON:
    at = f"2026-11-24T10:{n // 60:02}:{n % 60:02}.5+01:00"
    told = {"try" if name == "try_" else name: value for name, value in body.items()}
    return {"id": key(number or 1000 + n), "sheet": sheet, "n": n, "at": at, "body": told}


def begin(candidate: str, *, assessor: str = "hana-dvorakova", **other: Any) -> JSON:  # noqa: ANN401 - any field
    students = [{"student": "S1", "log": {"long-hang": 5}}, {"student": "S2", "log": {}}]
    head: JSON = {
        "kind": "begin",
        "practical": "mill-2026-11-24",
        "rubric": RUBRIC,
        "rubric_version": 1,
        "candidate": candidate,
        "assessor": assessor,
        "began": "2026-11-24T10:00:00.000+01:00",
        "students": students,
        "site": None,
        "covers": [],
    }
    return record(1, **(head | other))


def sign(records: list[JSON]) -> JSON:
    n = len(records) + 1
    return record(n, number=999, kind="sign", count=len(records), sha256=digest(records))


def post(visitor: httpx.Client, *records: JSON) -> list[str]:
    answer = visitor.post("/api/records", json={"records": list(records)})
    assert answer.status_code == 200, answer.text
    told = answer.json()["answers"]
    assert [one["id"] for one in told] == [one["id"] for one in records]
    return [one["answer"] for one in told]


def lesson(hana: httpx.Client, candidate: str) -> list[JSON]:
    """A short lesson with every question of two tries answered."""
    kit = hana.get("/api/lesson-kit", params={"rubric": RUBRIC, "candidate": candidate}).json()
    asked = [
        one["id"]
        for one in kit["questions"]
        if one["asked"] == "every" and (not one["skills"] or "long-hang" in one["skills"])
    ]
    taps: list[JSON] = [begin(candidate)]

    def tap(**body: Any) -> None:  # noqa: ANN401 - any field
        taps.append(record(len(taps) + 1, **body))

    for number, student in enumerate(("S1", "S2"), 1):
        for question in asked:
            told = {"student": student, "skill": "long-hang", "criterion": question}
            tap(kind="mark", try_=number, t=60 * number, answer="yes", **told)
    tap(kind="note", t=90, text="Moved the mat; went on. ")
    tap(kind="look", look=1, t=62, waiting=1, idle=0)
    tap(kind="rating", criterion=kit["ratings"][0]["id"], level=3)
    tap(kind="end", t=300)
    tap(kind="reason", text="short lesson")
    return taps


def signed_lesson(taps: list[JSON], number: int, practical: str) -> list[JSON]:
    """The same lesson as another sheet, that of this number, under its own practical; signed."""
    head = taps[0] | {"body": taps[0]["body"] | {"practical": practical}}
    sheet = {"sheet": key(number)}
    own = [one | sheet | {"id": key(number + one["n"])} for one in [head, *taps[1:]]]
    return [*own, sign(own) | sheet | {"id": key(number + len(own) + 1)}]
