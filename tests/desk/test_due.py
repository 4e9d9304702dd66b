"""The due list of real record books, against looking at every award, and at every day."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from tests.engine import made
from tests.schools import place
from tests.store.school import RUBRIC, School, open_school, people

from standfast.desk.awards import documents_of
from standfast.desk.due import Asked, due
from standfast.desk.opening import Desk, Moment
from standfast.engine.dates import DAY, award_dates, standing
from standfast.engine.due import due_between
from standfast.engine.transition import honoured
from standfast.model.award import Award, Honoured, Ruling, RulingKind
from standfast.model.people import Document, Person
from standfast.model.rubric import Refresher, Rubric, Validity
from standfast.problems import NotFound

BEGAN = date(2026, 3, 1)
SITES = ("Hall", "Mill")
KINDS = ("first-aid", "insurance")
VALIDITIES = (
    Validity(
        period="P2Y", refresher=Refresher(every="P1Y", window="P2M"), grace="P1M", lapse_limit="P1Y"
    ),
    Validity(period="P2Y", refresher=Refresher(every="P1Y", window="P2M")),
    Validity(period="P9M"),
    Validity(period="P4Y"),
)


@dataclass(frozen=True)
class Papers:
    """One document: kind, and days from the beginning to its issue and its last day."""

    kind: str
    issued: int
    last_day: int

    @property
    def noun(self) -> Document:
        return Document(
            document=self.kind,
            issued=BEGAN + timedelta(days=self.issued),
            last_day=BEGAN + timedelta(days=self.last_day),
        )


@dataclass(frozen=True)
class Held:
    """One award: whose, under what, when, on which documents, and what became of it."""

    holder: int
    validity: Validity
    granted: int
    documents: tuple[str, ...]
    then: RulingKind | None
    renewed: bool
    version: int = 1


@dataclass(frozen=True)
class Story:
    """What a book is made of."""

    before: tuple[tuple[Papers, ...], ...]
    """For each person the documents of a first entry, which another takes the place of."""
    papers: tuple[tuple[Papers, ...], ...]
    held: tuple[Held, ...]
    erased: frozenset[int]
    transition: tuple[int, bool] | None = None
    """Days until version 1 is honoured no more, and whether there is a top-up."""


papers = st.builds(Papers, st.sampled_from(KINDS), st.integers(-300, 500), st.integers(-100, 1000))
holdings = st.builds(
    Held,
    st.integers(0, 3),
    st.sampled_from(VALIDITIES),
    st.integers(0, 500),
    st.sets(st.sampled_from(KINDS)).map(lambda kinds: tuple(sorted(kinds))),
    st.sampled_from((None, None, None, "suspended", "withdrawn")),
    st.booleans(),
    st.sampled_from((1, 1, 2)),
)
each = st.tuples(*[st.lists(papers, max_size=4).map(tuple)] * 4)
stories = st.builds(
    Story,
    each,
    each,
    st.lists(holdings, max_size=8).map(tuple),
    st.frozensets(st.just(3)),
    st.none() | st.tuples(st.integers(-50, 1100), st.booleans()),
)


def second(transition: tuple[int, bool] | None) -> Rubric:
    """Version 2, with one criterion more."""
    days, top_up = transition or (0, False)
    said = {"honoured_until": BEGAN + timedelta(days=days), "top_up": top_up}
    more = (*made.all_kinds(), made.attempts("still"))
    return made.rubric(*more, version=2, **({"transition": said} if transition else {}))


def person(number: int, documents: tuple[Papers, ...]) -> Person:
    named = made.person(f"holder-{number}")
    nouns = tuple(one.noun for one in documents)
    return named.model_copy(update={"site": SITES[number % 2], "documents": nouns})


@contextmanager
def opened(story: Story, on: date) -> Iterator[Desk]:
    """A desk at a new book in which that story was lived."""
    with tempfile.TemporaryDirectory() as name:
        school = open_school(place(Path(name)))
        live(school, story)
        (Path(name) / "school.yaml").write_text("school: bar\nname: Bar\n", "utf-8")
        now = datetime(2026, 11, 20, tzinfo=timezone.utc)
        yield Desk(Path(name), Moment(now, "office", bytes, on), school.book)
        school.book.close()


def live(school: School, story: Story) -> None:
    school.book.put_people(people(), school.stamp)
    for documents in (story.before, story.papers):
        school.book.put_people([person(n, some) for n, some in enumerate(documents)], school.stamp)
    school.take(made.sheet(1))
    decision = school.decide([made.sheet(1)]).id
    if story.transition:  # what was kept first is not what was kept last
        school.book.keep_text(second((story.transition[0] + 7, True)), school.stamp())
    texts = {1: school.keep_texts()[0], 2: school.keep_texts(second(story.transition))[0]}
    for number, one in enumerate(story.held):
        dates = award_dates(one.validity, BEGAN + timedelta(days=one.granted))
        whose = {"candidate": f"holder-{one.holder}", "documents": one.documents}
        common: dict[str, object] = {**whose, "rubric": texts[one.version]}
        award = school.award(
            decision, f"A-{number}", **common, dates=dates, granted=dates.first_day
        )
        school.book.put_award(award, school.stamp())
        if one.renewed:
            again = award_dates(one.validity, dates.first_day + timedelta(days=200))
            changes = {**common, "dates": again, "granted": again.first_day}
            award = school.award(decision, f"B-{number}", **changes, renews=award.id)
            school.book.put_award(award, school.stamp())
        if one.then:
            ruled = {"award": award.id, "on": BEGAN + timedelta(days=400), "by": "zoe"}
            ruling = Ruling.model_validate({**ruled, "kind": one.then, "because": "asked"})
            school.book.put_ruling(ruling, school.stamp())
    for number in story.erased:
        school.book.erase(f"holder-{number}", school.stamp())


def every_award(
    desk: Desk, story: Story
) -> Iterator[tuple[Award, Person, tuple[Ruling, ...], Honoured | None]]:
    """Every award that stood on the day and whose holder has a name."""
    bound = honoured(RUBRIC, [second(story.transition)], desk.today)
    everything = [kept for kept in desk.book.awards(past=True) if kept.superseded_by is None]
    granted = [kept for kept in everything if kept.award.granted <= desk.today]
    continued = {kept.award.renews for kept in granted}
    for kept in granted:
        if kept.award.id in continued:
            continue
        holder = desk.book.find_person(kept.award.candidate)
        assert holder is not None
        if holder.name != "erased person":
            says = bound if kept.award.rubric.version == 1 else None
            yield kept.award, holder, desk.book.rulings(kept.award.id), says


seen_from = st.dates(BEGAN - timedelta(days=100), BEGAN + timedelta(days=1200))
lives_books = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    phases=(Phase.explicit, Phase.reuse, Phase.generate),  # to shrink a whole book takes minutes
)


@lives_books
@given(stories, seen_from, st.integers(1, 400), st.sampled_from((None, *SITES)))
def test_the_list_by_index_is_what_looking_at_every_award_gives(
    story: Story, on: date, ahead: int, site: str | None
) -> None:
    with opened(story, on) as desk:
        for asked in (Asked(ahead=f"{ahead}d", site=site), Asked(quarter="2027Q1", site=site)):
            found = due(desk, asked)
            expected = [
                (item.day, item.what, item.number, item.says, holder.id)
                for award, holder, rulings, says in every_award(desk, story)
                if site in {None, holder.site}
                for item in due_between(
                    award,
                    documents_of(award, holder, on),
                    found.first,
                    found.last,
                    on,
                    rulings,
                    says,
                )
            ]
            rows = [
                (r.by, r.what, r.certificate, r.to_do, r.person)
                for r in found.rows
                if r.role == "holder"
            ]

            assert sorted(rows) == sorted(expected)


@lives_books
@given(stories, seen_from, st.integers(1, 400))
def test_the_groups_add_up_to_a_walk_day_by_day(story: Story, on: date, ahead: int) -> None:
    with opened(story, on) as desk:
        found = due(desk, Asked(ahead=f"{ahead}d"))
        walked = Counter[str]()
        for award, holder, rulings, says in every_award(desk, story):
            walked += walk(award, documents_of(award, holder, on), rulings, says, found.last, on)

        listed = Counter(row.what for row in found.rows if row.role == "holder")
        assert listed == walked


def walk(
    award: Award,
    documents: Mapping[str, date | None],
    rulings: tuple[Ruling, ...],
    says: Honoured | None,
    last: date,
    on: date,
) -> Counter[str]:
    """What falls on each day from `on` to `last`, asked of the standing alone, day by day."""
    seen = Counter[str]()
    now = standing(award, documents, on, rulings, says)
    if now.state == "withdrawn":
        return seen
    alone = award.model_copy(update={"documents": ()})
    if now.state in {"in grace", "lapsed"} and on >= award.dates.first_day:
        step = standing(alone, {}, on, (), says).next_step
        what = "in grace" if now.state == "in grace" else "late"
        seen[what] += not step.startswith("a full practical")  # past mending: before the list
    day = on
    while day <= last:
        if day == standing(alone, {}, day).ends:
            seen["award ends"] += 1
        elif good(alone, {}, day) and not good(alone, {}, day + DAY) and begun(award, day):
            seen["refresher"] += 1
        told = standing(alone, {}, day, (), says)
        seen["version ends"] += (told.ends, told.ends_by) == (day, "version 1 of the rubric")
        for kind in award.documents:
            one = award.model_copy(update={"documents": (kind,)})
            told = standing(one, documents, day)
            seen["document ends"] += (told.ends, told.ends_by) == (day, kind)
        day += DAY
    return +seen


def good(award: Award, documents: dict[str, date | None], on: date) -> bool:
    """Whether it may be used that day by its own days, its first day apart."""
    told = standing(award, documents, max(on, award.dates.first_day))
    return told.state in {"current", "refresher due"}


def begun(award: Award, on: date) -> bool:
    return on >= award.dates.first_day


def test_a_site_or_rubric_that_nobody_has_is_named() -> None:
    with opened(Story(((),) * 4, ((),) * 4, (), frozenset()), BEGAN) as desk:
        with pytest.raises(NotFound, match="did you mean 'Hall'"):
            due(desk, Asked(site="Hal"))
        with pytest.raises(NotFound, match="rubric with an award or approval"):
            due(desk, Asked(rubric="bar-2"))
        assert due(desk, Asked(rubric="bar-1")).rows == ()  # ann and bo may score it


def test_an_erased_holder_is_not_asked_to_do_anything() -> None:
    held = Held(3, VALIDITIES[0], 0, (), None, renewed=False)
    there = Story(((),) * 4, ((),) * 4, (held,), frozenset())
    gone = Story(((),) * 4, ((),) * 4, (held,), frozenset({3}))

    for story, expected in ((there, ["refresher"]), (gone, [])):
        with opened(story, BEGAN) as desk:
            assert [row.what for row in due(desk, Asked(ahead="12m")).rows] == expected


@pytest.mark.parametrize(
    ("on", "ahead", "listed"),
    [
        pytest.param(599, 1, ["version ends"], id="the day before, until the day"),
        pytest.param(600, 1, ["version ends"], id="on the day"),
        pytest.param(598, 1, [], id="not so far ahead"),
        pytest.param(601, 1, ["late"], id="the day after"),
        pytest.param(1000, 1, ["late"], id="long after"),
    ],
)
def test_the_day_on_which_a_version_ends_is_found(on: int, ahead: int, listed: list[str]) -> None:
    held = tuple(Held(0, VALIDITIES[3], 0, (), None, renewed=False, version=n) for n in (1, 2))
    story = Story(((),) * 4, ((),) * 4, held, frozenset(), (600, True))

    with opened(story, BEGAN + timedelta(days=on)) as desk:
        rows = due(desk, Asked(ahead=f"{ahead}d")).rows

    assert [row.what for row in rows] == listed
    assert {row.certificate for row in rows} <= {"A-0"}  # that under version 2 goes on
