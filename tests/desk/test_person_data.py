"""What the book holds about a person: all of it, and nothing that is others'."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.engine import made
from tests.schools import place
from tests.store.full import NOW, fill_everything
from tests.store.school import open_school, people, reference

from standfast.desk.opening import Desk, Moment
from standfast.desk.person_data import ANOTHER, COMPLAINED, PURPOSES, TIED, data_of, give
from standfast.model.appeal import Appeal
from standfast.model.people import Conflict
from standfast.problems import NotFound, StandfastError

SETTINGS = "school: hall\nname: The hall\nzone: Europe/Vienna\n"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A book with something of everything about cato, ann and others."""
    school = open_school(place(tmp_path))
    fill_everything(school)
    cato, *_ = people()
    tied = cato.model_copy(update={"conflicts": (_tie("bo"),)})
    school.book.put_people([tied], school.stamp)
    school.book.put_reference(reference("ann"), school.stamp("zoe"))
    complaint = Appeal.model_validate(
        {
            "id": school.key(),
            "number": "complaint-2026-1",
            "kind": "complaint",
            "received": NOW.date(),
            "due_by": NOW.date() + timedelta(days=30),
            "by": "bo",
            "about": "cato",
            "because": "the floor was not clear",
        }
    )
    school.book.put_appeal(complaint, school.stamp("bo"))
    (tmp_path / "school.yaml").write_text(SETTINGS)
    yield Desk(tmp_path, Moment(NOW, "office", bytes), school.book)
    school.book.close()


def _tie(other: str) -> Conflict:
    return Conflict.model_validate({"person": other, "kind": "family", "since": "2026-01-01"})


def entries(value: Any, kind: str) -> list[Any]:  # noqa: ANN401 - JSON
    return [one for one in value["entries"] if one["kind"] == kind]


def test_everything_about_her_is_there(desk: Desk) -> None:
    value = data_of(desk, "cato").value

    assert value["identity"]["name"] == "Cato Quillfeather"
    assert value["identity"]["contact"] == "cato.contact@example.org"
    assert value["known_now"]["documents"][0]["document"] == "first-aid"
    about = [event.seq for event in desk.book.history("cato")]
    assert set(about) <= {one["number"] for one in value["entries"]}
    assert len(entries(value, "sheet-taken")) == 3
    assert len(entries(value, "decision-made")) == len(entries(value, "award-granted")) == 1
    assert [one["body"]["kind"] for one in value["records"]] == ["begin"]
    assert {one["kind"] for one in value["purposes"]} <= value.keys()
    assert all(one["basis"] == "ask your own counsel" for one in value["purposes"])


def test_who_acted_in_office_is_named_and_who_complained_or_is_tied_is_not(desk: Desk) -> None:
    found = data_of(desk, "cato")
    (award,) = entries(found.value, "award-granted")
    (complaint,) = entries(found.value, "appeal-filed")
    latest = entries(found.value, "person-set")[-1]

    names = {one.id: one.name for one in desk.book.people()}
    assert award["body"]["award"]["certifier"] == names["zoe"]
    assert {one["body"]["sheet"]["assessor"] for one in entries(found.value, "sheet-taken")} == {
        names["ann"],
        names["bo"],
    }
    assert complaint["body"]["appeal"]["by"] == COMPLAINED
    assert complaint["entered_by"] == "the-school"
    assert latest["body"]["person"]["conflicts"][0]["person"] == TIED
    assert found.value["known_now"]["conflicts"][0]["person"] == TIED
    assert latest["body"]["person"]["trained_by"][0]["trainer"] == names["zoe"]
    for one in (complaint, latest):
        assert not {names["bo"], '"bo"'} & set(json.dumps(one).split())


def test_whom_she_scored_is_nobody_by_name(desk: Desk) -> None:
    found = data_of(desk, "ann")
    said = json.dumps(found.value) + found.text

    assert "Quillfeather" not in said
    assert "cato" not in said
    hers, *others = entries(found.value, "sheet-taken")
    assert hers["body"]["sheet"]["candidate"] == ANOTHER
    assert hers["body"]["sheet"]["assessor"] == "ann"
    assert [(one["part"], one["body"]) for one in others] == [("entered by you", None)] * 2
    assert found.value["records"][0]["body"]["candidate"] == ANOTHER
    assert [one["login"] for one in found.value["accounts"]] == ["ann"]
    assert "hashed" not in said


def test_of_a_trainee_the_trainer_gets_only_what_ties_them(desk: Desk) -> None:
    found = data_of(desk, "zoe")
    others = [one for one in entries(found.value, "person-set") if one["part"] == "names you"]

    assert others
    for one in others:
        assert one["body"].keys() == {"trained_by", "conflicts"}
        assert one["body"]["trained_by"][0]["trainer"] == "zoe"
    assert "first-aid" not in json.dumps(others)
    (decision,) = entries(found.value, "decision-made")
    assert decision["body"].keys() == {"trained_by", "conflicts"}


def test_nobody_else_is_named_in_what_a_bystander_gets(desk: Desk) -> None:
    dora = made.person("dora")
    desk.book.put_people([dora], desk.stamp)
    found = data_of(desk, "dora")

    assert [one["part"] for one in found.value["entries"]] == ["about you"]
    for kind, _, _ in PURPOSES[2:]:
        if kind != "entries":
            assert found.value[kind] == []


def test_held_records_that_name_her_are_counted_but_not_shown(desk: Desk) -> None:
    desk.book.records.hold("r", "s", '{"candidate": "cato", "x": "bo"}', "no such", "a", NOW)
    (one,) = data_of(desk, "cato").value["held"]

    assert one.keys() == {"number", "got", "why"}


def test_both_files_say_whom_they_are_about_and_what_for(desk: Desk, tmp_path: Path) -> None:
    given = give(desk, "cato", tmp_path / "hers")

    text = (tmp_path / "hers" / "person-data.txt").read_text("utf-8")
    value = json.loads((tmp_path / "hers" / "person-data.json").read_text("utf-8"))
    assert value["person"] == "cato"
    assert "Cato Quillfeather" in text
    assert "the floor was not clear" in text
    assert text.count("ask your own counsel") == len(PURPOSES)
    assert "student stays on the ground" in text
    assert given.counts["entries"] == len(value["entries"]) > 5
    assert (tmp_path / "hers").stat().st_mode & 0o077 == 0


def test_nothing_is_overwritten_and_nobody_unknown_is_found(desk: Desk, tmp_path: Path) -> None:
    give(desk, "cato", tmp_path / "hers")

    with pytest.raises(StandfastError, match="holds something already"):
        give(desk, "cato", tmp_path / "hers")
    with pytest.raises(NotFound):
        give(desk, "nobody-here", tmp_path / "theirs")
    assert not (tmp_path / "theirs").exists()


def test_after_erasure_only_a_number_is_left(desk: Desk) -> None:
    desk.book.erase("cato", desk.stamp())
    ref = desk.book.erased()[0]
    found = data_of(desk, ref)

    assert found.value["identity"] == {"name": "erased person", "contact": None, "site": None}
    assert "Quillfeather" not in json.dumps(found.value) + found.text
