"""Appeals and complaints in the browser: the same answers as at the desk."""

from __future__ import annotations

import html
import re
from datetime import timedelta

import httpx
import pytest
from tests.web.conftest import NOW, PASSWORD, TODAY, Served, Visit, filled_in, hidden
from tests.web.test_deciding_pages import INES_NUMBER, TWO_SHEETS, at_the_desk, text_of

from standfast.cli.app import run
from standfast.desk.access import add_account
from standfast.desk.appeals import appeals
from standfast.desk.hearing import hearing, why_no_answer
from standfast.engine.phrases import count
from standfast.paper.view.words import day, in_words
from standfast.web.naming import named, names_of

INES, SUNNIVA, NOBODY_HERE = "ines-carvalho-teles", "sunniva-bakketun", "nobody-here"
MARIT, RUBEN = "marit-solheim-aune", "ruben-van-den-oetelaar"
OPEN, CLOSED, REDUCED = "appeal-2026-2", "appeal-2026-1", "LT1-2026-0004"
APPEAL, COMPLAINT = f"/appeals/new/appeal/{INES}", f"/appeals/new/complaint/{INES}"
WHY, THEREFORE = "the second lesson was not looked at", "it was looked at, twice"


def ruben(house: Served) -> httpx.Client:
    """Somebody who took no part in what is open."""
    with at_the_desk(house) as desk:
        add_account(desk, "ruben", ["certifier"], PASSWORD, person=RUBEN)
    return house.visitor("ruben")


def kinds(house: Served) -> list[str]:
    """What came into the book, in order."""
    with at_the_desk(house) as desk:
        return [one.kind for one in desk.book.history()]


def complaint(house: Served, **fields: str) -> str:
    """The page of a complaint about Ines that came in."""
    form = {"against": INES, "because": WHY, **fields}
    made = filled_in(house.visitor("office"), COMPLAINT, COMPLAINT, **form)
    assert made.status_code == 303, made.text
    return made.headers["location"]


def test_open_ones_come_first_with_their_days(visit: Visit, reading_house: Served) -> None:
    page = visit("reader").get("/appeals").text
    with at_the_desk(reading_house) as desk:
        found = appeals(desk)

    assert [one.appeal.number for one in found] == [OPEN, CLOSED]
    assert re.findall(r'scope="row" class="short"><a href="/appeals/([^"]+)"', page) == [
        one.appeal.number for one in found
    ]
    waits = found[0]
    open_for = count((TODAY - waits.appeal.received).days, "day")
    left = f"answer by {day(waits.appeal.due_by)}, {count(waits.days_left, 'day')} left"
    assert f"open for {open_for}; {left}" in text_of(visit("reader").get("/appeals"))
    assert "not upheld" in page.partition("Answered: 1")[2]


STANDS = {
    0: "open since today; answer by 24 December 2026, 30 days left",
    29: "open for 29 days; answer by 24 December 2026, 1 day left",
    30: "open for 30 days; answer by 24 December 2026, which is today",
    31: "overdue , open for 31 days; an answer was due by 24 December 2026",
}
"""What is said so many days after it came in."""


def test_the_first_page_says_what_waits_for_an_answer_and_for_how_long(house: Served) -> None:
    address = complaint(house)
    for days, says in STANDS.items():
        house.clock.now = NOW + timedelta(days=days)
        first, due = (house.visitor("office").get(path) for path in ("/", "/due"))
        _, _, row = first.text.partition(f'<a href="{address}">')

        assert says in " ".join(re.sub("<[^>]*>", " ", row.partition("</tr>")[0]).split())
        assert 'href="/appeals"><strong>2</strong>' in first.text
        assert '<a href="/appeals">all of them</a>' in due.text


def test_the_page_of_one_tells_its_story_and_who_may_answer(
    visit: Visit, reading_house: Served
) -> None:
    page = text_of(visit("reader").get(f"/appeals/{OPEN}"))
    with at_the_desk(reading_house) as desk:
        told = hearing(desk, OPEN)
        may = {one.name for one in desk.book.people() if not why_no_answer(desk, OPEN, one.id)}
        story = [named(in_words(one.says), names_of(desk)) for one in told.story]

    assert [one.kind for one in told.story] == [
        *("sheet-taken", "sheet-taken", "decision-made", "award-granted", "award-ruled"),
        "appeal-filed",
    ]
    places = [page.index(html.unescape(one)) for one in story]
    assert places == sorted(places)
    assert set(told.may_answer) == may == {"Ruben van den Oetelaar"}
    assert "Today may answer it: Ruben van den Oetelaar." in page
    assert f"award {REDUCED}" in page
    assert "Uphold it" not in page  # a reader answers nothing
    assert "stays on the ground" in page


def test_who_took_part_is_told_every_reason_before_and_after_sending(house: Served) -> None:
    marit, address = house.visitor("marit"), f"/appeals/{OPEN}"
    with at_the_desk(house) as desk:
        why = why_no_answer(desk, OPEN, MARIT)
    before = text_of(marit.get(address))
    sent = {"outcome": "upheld", "because": THEREFORE, "read": "6"}
    answer = marit.post(f"{address}/answer", data=sent)

    assert len(why) == 2
    for words in why:
        said = words.replace(MARIT, "Marit Solheim Aune")
        assert said in before
        assert said in text_of(answer)
    assert "Uphold it" not in before
    assert answer.status_code == 409
    assert "appeal-answered" not in kinds(house)[-2:]


def test_an_appeal_is_answered_once_however_often_it_is_sent_and_then_undone_by_a_ruling(
    house: Served,
) -> None:
    answers, marit, address = ruben(house), house.visitor("marit"), f"/appeals/{OPEN}"
    form = hidden(answers.get(address).text, f"{address}/answer")
    form |= {"outcome": "upheld", "because": THEREFORE}
    before = kinds(house)
    told = [answers.post(f"{address}/answer", data=form).status_code for _ in range(2)]
    page = text_of(answers.get(address))
    award = f"/awards/{REDUCED}"
    undone = filled_in(marit, award, f"{award}/rule", kind="restored", because="it was upheld")
    house.clock.later(hours=20)  # the day after
    again = house.visitor("ruben")
    late = again.post(f"{address}/answer", data=form)
    other = again.post(f"{address}/answer", data=form | {"outcome": "not upheld"})

    assert told == [303, 303]
    assert f"restore {REDUCED}" in page
    assert "Ruben van den Oetelaar" in page
    assert THEREFORE in page
    assert "Uphold it" not in page
    assert undone.status_code == 303
    assert (late.status_code, other.status_code) == (303, 409)
    assert "was answered already" in text_of(other)
    assert kinds(house)[len(before) :] == ["appeal-answered", "award-ruled"]


def test_what_was_ruled_since_the_page_was_read_is_read_before_it_is_answered(
    house: Served,
) -> None:
    answers, address, award = ruben(house), f"/appeals/{OPEN}", f"/awards/{REDUCED}"
    form = hidden(answers.get(address).text, f"{address}/answer")
    form |= {"outcome": "upheld", "because": THEREFORE}
    marit = house.visitor("marit")
    ruled = filled_in(marit, award, f"{award}/rule", kind="suspended", because="a fall")
    refused = answers.post(f"{address}/answer", data=form)
    anew = hidden(refused.text, f"{address}/answer")

    assert ruled.status_code == 303
    assert refused.status_code == 409
    assert "something was entered of it since the page was read" in refused.text
    assert f">{THEREFORE}</textarea>" in refused.text
    assert kinds(house)[-1] == "award-ruled"
    assert answers.post(f"{address}/answer", data=form | anew).status_code == 303


def test_an_appeal_is_entered_from_the_page_of_the_award_once_however_often_it_is_sent(
    house: Served,
) -> None:
    office, answers, award = house.visitor("office"), ruben(house), f"/awards/{INES_NUMBER}"
    (link,) = re.findall(r'href="(/appeals/new/appeal/[^"]+)"', office.get(award).text)
    page = office.get(html.unescape(link)).text
    form = hidden(page, APPEAL) | {"against": INES_NUMBER, "because": WHY}
    before = kinds(house)
    first, again = (office.post(APPEAL, data=form) for _ in range(2))
    address = first.headers["location"]
    seen = text_of(office.get(award))
    answered = filled_in(
        answers, address, f"{address}/answer", outcome="not upheld", because=THEREFORE
    )
    late = office.post(APPEAL, data=form)
    other = office.post(APPEAL, data=form | {"because": "something else"})

    assert f'value="{INES_NUMBER}" checked' in page
    assert [one.status_code for one in (first, again, late)] == [303, 303, 303]
    assert {one.headers["location"] for one in (first, again, late)} == {address}
    assert answered.status_code == 303
    assert (other.status_code, "was entered with this form" in text_of(other)) == (409, True)
    assert kinds(house)[len(before) :] == ["appeal-filed", "appeal-answered"]
    assert f"Open against it: {address.rpartition('/')[2]}" in " ".join(seen.split())
    assert "Open against it" not in text_of(office.get(award))
    with at_the_desk(house) as desk:
        kept = desk.book.find_appeal(address.rpartition("/")[2])
        assert kept
        award_id = desk.book.awards(INES)[-1].award.id
    assert (kept.appeal.by, kept.appeal.about, kept.appeal.award) == (INES, INES, award_id)
    assert (kept.appeal.received, kept.appeal.because) == (TODAY, WHY)


def test_a_decision_and_a_ruling_are_appealed_against_by_their_own_entry(house: Served) -> None:
    marit, award = house.visitor("marit"), f"/awards/{INES_NUMBER}"
    filled_in(marit, award, f"{award}/rule", kind="suspended", because="a fall")
    (link,) = re.findall(
        r'href="(/appeals/new/appeal/[^"]+)"', marit.get(f"/decisions/{INES}/low-trapeze-1").text
    )
    page = marit.get(html.unescape(link)).text
    options = dict(re.findall(r'name="against" value="([^"]+)"[^>]*> ([^<]+)<', page))
    (chosen,) = re.findall(r'name="against" value="([^"]+)" checked', page)
    (ruling,) = (one for one, words in options.items() if "suspended on" in words)
    for entry in (chosen, ruling):
        made = filled_in(marit, APPEAL, APPEAL, against=entry, because=WHY)
        assert made.status_code == 303, made.text

    with at_the_desk(house) as desk:
        decided, ruled = (one.appeal for one in desk.book.appeals(INES))
    assert options[chosen].startswith("decision of ")
    assert (decided.decision, decided.award) == (chosen, None)
    assert (ruled.ruling, bool(ruled.award)) == (ruling, True)


def test_what_would_say_the_same_is_not_offered_and_the_page_says_why(visit: Visit) -> None:
    page = visit("office").get(f"/appeals/new/appeal/{SUNNIVA}?against={REDUCED}").text

    assert f'value="{REDUCED}"' not in page
    assert "reduced on 28 September 2026</label>" in page
    assert f"not against award {REDUCED}: {OPEN} says the same, and is open until" in page


@pytest.mark.parametrize(
    ("address", "fields", "status", "words"),
    [
        pytest.param(APPEAL, {"because": ""}, 422, "because", id="no reason"),
        pytest.param(APPEAL, {"against": ""}, 422, "against", id="nothing chosen"),
        pytest.param(APPEAL, {"because": "Hana Dvořáková"}, 409, "it names", id="a name"),
        pytest.param(APPEAL, {"against": REDUCED}, 409, "only they appeal", id="not hers"),
        pytest.param(APPEAL, {"against": "no-such"}, 404, "no-such", id="nothing"),
        pytest.param(COMPLAINT, {"against": NOBODY_HERE}, 404, "no person", id="nobody"),
        pytest.param(COMPLAINT, {"by": INES}, 409, "one appeals", id="about oneself"),
        pytest.param(COMPLAINT, {"by": NOBODY_HERE}, 404, "no person", id="from nobody"),
    ],
)
def test_what_cannot_be_entered_comes_back_with_why_and_with_what_was_typed(
    house: Served, address: str, fields: dict[str, str], status: int, words: str
) -> None:
    form = {"against": INES_NUMBER, "because": WHY, **fields}
    before = kinds(house)
    answer = filled_in(house.visitor("office"), address, address, **form)
    page = html.unescape(answer.text)

    assert answer.status_code == status
    assert words in page
    assert f">{form['because']}</textarea>" in page
    if form["against"] == INES_NUMBER:
        assert f'value="{INES_NUMBER}" checked' in page
    if form.get("by") == INES:
        assert f'<option value="{INES}" selected>' in page
    assert kinds(house) == before


@pytest.mark.parametrize("by", ["", "hana-dvorakova"], ids=["from outside", "from a person"])
def test_a_complaint_about_a_practical_comes_from_its_page(house: Served, by: str) -> None:
    office = house.visitor("office")
    page = office.get(f"/practicals/{TWO_SHEETS}").text
    (link,) = re.findall(r'href="(/appeals/new/complaint/[^"]+)"', page)
    form = office.get(html.unescape(link)).text
    path = html.unescape(link).partition("?")[0]
    made = office.post(
        path, data=hidden(form, path) | {"against": TWO_SHEETS, "by": by, "because": WHY}
    )
    address = made.headers["location"]
    told = text_of(house.visitor("reader").get(address))

    assert f'value="{TWO_SHEETS}" checked' in form
    with at_the_desk(house) as desk:
        kept = desk.book.find_appeal(address.rpartition("/")[2])
    assert kept
    assert (kept.appeal.practical, kept.appeal.by) == (TWO_SHEETS, by or None)
    assert ("Hana Dvořáková" if by else "somebody from outside") in told.partition("Received")[0]
    assert "scored by Hana Dvořáková" in told  # its story


def test_what_was_typed_of_a_complaint_waits_for_whoever_was_signed_out(house: Served) -> None:
    office = house.visitor("office")
    form = {"against": INES_NUMBER, "by": "hana-dvorakova", "because": WHY}
    house.clock.later(hours=13)
    out = office.post(COMPLAINT, data=form)
    person = house.visitor("office").get(f"/people/{INES}").text
    page = html.unescape(house.visitor("office").get(COMPLAINT).text)

    assert "kept=true" in out.headers["location"]
    assert WHY not in person
    assert f">{WHY}</textarea>" in page
    assert f'value="{INES_NUMBER}" checked' in page
    assert '<option value="hana-dvorakova" selected>' in page
    assert "you were signed out before this was sent" in page


def test_the_appeal_of_somebody_whose_name_was_erased_still_has_its_page(house: Served) -> None:
    assert run(["book", "forget", SUNNIVA, "--yes", "--school", str(house.folder)]) == 0
    answers = ruben(house)
    page = answers.get(f"/appeals/{OPEN}")
    said = filled_in(
        *(answers, f"/appeals/{OPEN}", f"/appeals/{OPEN}/answer"),
        outcome="upheld",
        because=THEREFORE,
    )

    assert page.status_code == 200
    assert "Sunniva" not in page.text
    assert said.status_code == 303


def test_a_person_s_page_has_what_is_open_about_her_and_the_way_to_enter_more(
    visit: Visit,
) -> None:
    office, reader = (visit(login).get(f"/people/{SUNNIVA}").text for login in ("office", "reader"))

    for page in (office, reader):
        assert f'<a href="/appeals/{OPEN}">{OPEN}</a>' in page
    for kind in ("appeal", "complaint"):
        assert f'href="/appeals/new/{kind}/{SUNNIVA}"' in office
        assert f'href="/appeals/new/{kind}/{SUNNIVA}"' not in reader
