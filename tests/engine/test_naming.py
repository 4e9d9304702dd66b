"""A name in free text is found, and every text of a sheet is looked through."""

from __future__ import annotations

import pytest
from tests.engine import made

from standfast.engine.naming import named_in, naming_faults
from standfast.model.evidence import Incident, Note, Rating
from standfast.model.people import Person

HANA = Person(id="hana-dvorakova", name="Hana Dvo\u0159\u00e1kov\u00e1")
LEE = Person(id="lee", name="Lee")
PEOPLE = (HANA, LEE)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        pytest.param("Hana Dvo\u0159\u00e1kov\u00e1 was asleep", True, id="as written"),
        pytest.param("HANA DVO\u0158\u00c1KOV\u00c1, twice", True, id="in capitals"),
        pytest.param("Hana Dvor\u030ca\u0301kova\u0301 said", True, id="accents apart"),
        pytest.param("that hana  dvorakova", True, id="without accents"),
        pytest.param("see hana-dvorakova.", True, id="the short name"),
        pytest.param("Hanna Dvorakova", False, id="another name"),
        pytest.param("Hana stood on the lee side", False, id="single words"),
        pytest.param("", False, id="nothing"),
    ],
)
def test_a_name_is_found_however_it_is_written(text: str, found: bool) -> None:
    assert named_in(text, PEOPLE) == (("hana-dvorakova",) if found else ())


def test_every_text_of_a_sheet_is_looked_through() -> None:
    said = "with Hana Dvorakova"
    sheet = made.sheet(
        1,
        corrects=made.correcting(2, said),
        notes=(Note(text="a good lesson"), Note(text=said)),
        ratings=(Rating(criterion="looks", level=4, note=said),),
        incidents=(Incident(at=3, criterion="left", note=said),),
        students=(made.student("S1").model_copy(update={"remark": said}), made.student("S2")),
    )

    faults = tuple(naming_faults(sheet, lambda: PEOPLE))

    assert [fault.path for fault in faults] == [
        ("corrects", "because"),
        ("notes", 1, "text"),
        ("ratings", 0, "note"),
        ("incidents", 0, "note"),
        ("students", 0, "remark"),
    ]
    assert all("it names hana-dvorakova" in fault.what for fault in faults)


def test_a_sheet_without_texts_asks_for_nobody() -> None:
    def nobody() -> tuple[Person, ...]:
        raise AssertionError("asked for everybody")

    assert tuple(naming_faults(made.sheet(1), nobody)) == ()
