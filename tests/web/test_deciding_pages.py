"""Practicals side by side, deciding, awarding: the same answers as at the desk."""

from __future__ import annotations

import html
import re
import secrets
from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import pytest
from tests.web.conftest import NOW, TODAY, Served, Visit, filled_in, hidden
from tests.web.records import lesson, post, sign

from standfast.cli.app import run
from standfast.desk.awards import Covered, covered, grant, granted
from standfast.desk.deciding import to_decide
from standfast.desk.decisions import decide_for
from standfast.desk.opening import Desk, Moment, open_desk
from standfast.desk.practicals import practicals, side_by_side
from standfast.desk.rulings import rule
from standfast.paper.view.words import day, in_words
from standfast.problems import Refused
from standfast.web.naming import named, names_of

NOOR, REFRESHER = "noor-van-der-veldt", "trapeze-refresher"
PARVIN, TRAPEZE = "parvin-shirazi-nooshabadi", "low-trapeze-1"
PAPER = {"document": "first-aid", "issued": "2026-10-01", "last_day": "2028-10-01"}
TWO_SHEETS = "sandhof-2026-10-13"


@contextmanager
def at_the_desk(house: Served) -> Iterator[Desk]:
    moment = Moment(NOW, "test", secrets.token_bytes, TODAY)
    with open_desk(house.folder, moment) as desk:
        yield desk


def show(house: Served, paper: dict[str, str]) -> None:
    """Enters a document of Noor's."""
    page = f"/people/{NOOR}"
    assert filled_in(house.visitor("office"), page, f"{page}/documents", **paper).status_code == 303


def text_of(answer: httpx.Response) -> str:
    """The words of a page, without its tags."""
    return html.unescape(re.sub(r"<[^>]*>", " ", answer.text))


def test_a_practical_with_one_sheet_waits_for_a_second_until_it_is_decided(
    visit: Visit, reading_house: Served
) -> None:
    with at_the_desk(reading_house) as desk:
        found = practicals(desk)
    waiting = {one.practical for one in found if one.waits}

    assert waiting
    assert all(len(one.assessors) == 1 for one in found if one.waits)
    assert any(len(one.assessors) == 1 and one.decided for one in found)
    page = visit("reader").get("/practicals").text
    first, _, _ = page.partition("To talk through")
    assert waiting == set(re.findall(r'href="/practicals/([^"]+)"', first))


def test_marks_that_differ_stand_beside_each_other_with_the_one_that_counts(
    visit: Visit, reading_house: Served
) -> None:
    with at_the_desk(reading_house) as desk:
        found = side_by_side(desk, TWO_SHEETS)
        decided = decide_for(desk, found.candidate, found.rubric.id).decision
    page = text_of(visit("lead").get(f"/practicals/{TWO_SHEETS}"))

    of_decision = [one for one in decided.disagreements if one.practical == TWO_SHEETS]
    listed = [one for part in found.differing for one in part.found]
    assert len(listed) > 3
    assert sorted(map(str, listed)) == sorted(map(str, of_decision))
    for part in found.differing:
        assert part.title in page
        for one in part.found:
            assert len({found.mark(one, sheet) for sheet in found.sheets}) > 1


def test_an_assessor_sees_only_practicals_that_she_scored(visit: Visit) -> None:
    hana = visit("hana")
    listed = re.findall(r'href="/practicals/([^"]+)"', hana.get("/practicals").text)

    assert TWO_SHEETS in listed
    assert "mill-2026-11-03" not in listed  # scored by somebody else
    assert hana.get(f"/practicals/{TWO_SHEETS}").status_code == 200
    assert hana.get("/practicals/mill-2026-11-03").status_code == 409


def test_who_waits_is_listed_with_what_the_rule_says(visit: Visit, reading_house: Served) -> None:
    with at_the_desk(reading_house) as desk:
        found = {(one.candidate, one.rubric): one for one in to_decide(desk)}
        said = decide_for(desk, NOOR, REFRESHER).decision.outcome
    page = visit("marit").get("/decisions").text

    assert found[NOOR, REFRESHER].outcome == said == "pass"
    assert found[PARVIN, TRAPEZE].outcome == "more"
    assert ("ines-carvalho-teles", TRAPEZE) not in found  # decided and awarded
    for candidate, rubric in found:
        assert f'href="/decisions/{candidate}/{rubric}"' in page


def test_every_reason_of_a_decision_is_on_its_page(visit: Visit, reading_house: Served) -> None:
    with at_the_desk(reading_house) as desk:
        decision = decide_for(desk, NOOR, REFRESHER).decision
    page = text_of(visit("reader").get(f"/decisions/{NOOR}/{REFRESHER}"))

    for reason in decision.reasons:
        assert in_words(reason.says) in page
        assert in_words(reason.standard) in page
    for left in decision.left_out:
        assert in_words(left.because) in page
    assert "Award, confirmed by" not in page  # a reader enters nothing
    assert "stays on the ground" in page


def test_a_decision_is_entered_once_it_is_asked_for(house: Served) -> None:
    marit = house.visitor("marit")
    address = f"/decisions/{PARVIN}/{TRAPEZE}"

    with at_the_desk(house) as desk:
        before = len(desk.book.decisions(PARVIN, TRAPEZE))
    marit.get(address)
    with at_the_desk(house) as desk:
        assert len(desk.book.decisions(PARVIN, TRAPEZE)) == before
    answer = filled_in(marit, address, f"{address}/keep")

    assert answer.status_code == 303
    with at_the_desk(house) as desk:
        made = desk.book.decisions(PARVIN, TRAPEZE)
    assert len(made) == before + 1
    assert (made[-1].decision.outcome, made[-1].who) == ("more", "marit-solheim-aune")


def test_a_decision_that_is_entered_twice_is_one_entry(house: Served) -> None:
    """A button pressed twice, or the page and the command line: nobody decided twice."""
    marit = house.visitor("marit")
    school = ["--school", str(house.folder), "--on", str(TODAY), "--by", "marit-solheim-aune"]
    address = f"/decisions/{NOOR}/{REFRESHER}"
    form = hidden(marit.get(address).text, f"{address}/keep")
    for _ in range(2):
        assert marit.post(f"{address}/keep", data=form).status_code == 303
    assert run(["decide", NOOR, REFRESHER, "--keep", *school]) == 0
    with at_the_desk(house) as desk:
        (kept,) = desk.book.decisions(NOOR, REFRESHER)[-1:]
        assert [one.decision.on for one in desk.book.decisions(NOOR, REFRESHER)].count(TODAY) == 1
    show(house, PAPER)
    filled_in(marit, address, f"{address}/award")

    with at_the_desk(house) as desk:
        assert desk.book.awards(NOOR)[-1].award.decision in {
            one.entry for one in desk.book.decisions(NOOR, REFRESHER)
        }
        assert NOOR not in {one.candidate for one in to_decide(desk)}
    assert kept.decision.outcome == "pass"


def test_what_was_not_read_is_not_entered(house: Served) -> None:
    marit = house.visitor("marit")
    answer = marit.post(f"/decisions/{PARVIN}/{TRAPEZE}/keep", data={"read": "0" * 64})

    assert answer.status_code == 409
    assert "read it again" in answer.text
    with at_the_desk(house) as desk:
        assert not desk.book.decisions(PARVIN, TRAPEZE)


def test_an_award_is_granted_as_at_the_desk_or_every_reason_is_said(house: Served) -> None:
    marit = house.visitor("marit")
    with at_the_desk(house) as desk, pytest.raises(Refused) as refused:
        grant(desk, PARVIN, TRAPEZE, "marit-solheim-aune")
    show(house, PAPER)
    read = hidden(
        marit.get(f"/decisions/{PARVIN}/{TRAPEZE}").text, f"/decisions/{PARVIN}/{TRAPEZE}/keep"
    )
    no = marit.post(f"/decisions/{PARVIN}/{TRAPEZE}/award", data=read)
    yes = filled_in(marit, f"/decisions/{NOOR}/{REFRESHER}", f"/decisions/{NOOR}/{REFRESHER}/award")

    assert no.status_code == 409
    for line in str(refused.value).splitlines()[1:]:
        assert in_words(line.strip()) in text_of(no)
    assert yes.status_code == 303
    for _ in range(2):  # a page that is loaded anew says the same
        granted = marit.get(yes.headers["location"])
        assert granted.status_code == 200
    yes = granted
    with at_the_desk(house) as desk:
        newest = desk.book.awards(NOOR)[-1].award
        assert not desk.book.awards(PARVIN)
        assert (NOOR, REFRESHER) not in {(one.candidate, one.rubric) for one in to_decide(desk)}
    assert (newest.granted, newest.certifier) == (TODAY, "marit-solheim-aune")
    assert newest.number in yes.text
    assert newest.dates.refresher_due
    assert day(newest.dates.refresher_due) in yes.text
    assert "stays on the ground" in yes.text
    printed = marit.get(f"/certificates/{newest.number}.pdf")
    assert printed.content.startswith(b"%PDF-")


INES_NUMBER = "LT1-2026-0005"


def test_an_award_is_suspended_and_reinstated_on_its_page_once_however_often_it_is_sent(
    house: Served,
) -> None:
    marit, address = house.visitor("marit"), f"/awards/{INES_NUMBER}"
    before = text_of(marit.get(address))
    form = hidden(marit.get(address).text, f"{address}/rule")
    form |= {"kind": "suspended", "because": "the wrist is hurt"}
    answers = [marit.post(f"{address}/rule", data=form) for _ in range(2)]
    suspended = text_of(marit.get(address))
    with at_the_desk(house) as desk:
        kept = desk.book.find_award(INES_NUMBER)
        assert kept
        (ruling,) = desk.book.rulings(kept.award.id)
        with pytest.raises(Refused) as refused:
            rule(desk, INES_NUMBER, "suspended", "marit-solheim-aune", "again")
        twice = str(refused.value).splitlines()[1].strip()
    anew = filled_in(marit, address, f"{address}/rule", kind="suspended", because="again")
    well = {"kind": "reinstated", "because": "all well"}
    back = filled_in(marit, address, f"{address}/rule", **well)
    late = marit.post(f"{address}/rule", data=form)

    assert "Suspend it" in before
    assert "Let it count again" not in before
    assert [one.status_code for one in answers] == [303, 303]
    assert (anew.status_code, twice in text_of(anew)) == (409, True)
    assert (late.status_code, "was ruled on since the page was read" in late.text) == (409, True)
    assert (ruling.kind, ruling.by, ruling.on) == ("suspended", "marit-solheim-aune", TODAY)
    assert "Today: suspended" in suspended
    assert "Print the certificate" not in suspended
    assert "Let it count again" in suspended
    assert back.status_code == 303
    assert "Today: current" in text_of(marit.get(address))


@pytest.mark.parametrize(
    ("form", "status", "words"),
    [
        pytest.param({"kind": "withdrawn", "because": ""}, 422, "because", id="no reason"),
        pytest.param({"kind": "reduced", "because": "x"}, 422, "kind", id="no such ruling"),
        pytest.param(
            {"kind": "suspended", "because": "Inês Carvalho Teles"}, 409, "it names", id="a name"
        ),
        pytest.param(
            {"kind": "reinstated", "because": "why not"},
            409,
            "cannot be reinstated",
            id="nothing to give back",
        ),
    ],
)
def test_what_cannot_be_ruled_comes_back_with_why(
    house: Served, form: dict[str, str], status: int, words: str
) -> None:
    address = f"/awards/{INES_NUMBER}"
    answer = filled_in(house.visitor("marit"), address, f"{address}/rule", **form)

    assert answer.status_code == status
    assert words in text_of(answer)
    assert f">{form['because']}</textarea>" in html.unescape(answer.text)
    with at_the_desk(house) as desk:
        kept = desk.book.find_award(INES_NUMBER)
        assert kept
        assert not desk.book.rulings(kept.award.id)


def test_who_may_not_rule_is_told_why_and_offered_nothing(house: Served) -> None:
    """Of the two, one certifies nothing here, the other has no account that could."""
    page = text_of(house.visitor("all").get(f"/awards/{INES_NUMBER}"))
    reader = text_of(house.visitor("reader").get(f"/awards/{INES_NUMBER}"))

    assert "can rule nothing of it today" in page
    assert "Suspend it" not in page
    assert "Rule on it" not in reader


def covered_now(house: Served) -> Covered:
    with at_the_desk(house) as desk:
        return covered(desk, granted(desk, INES_NUMBER).award)


def test_a_scope_is_reduced_and_given_back_on_the_page_once_however_often_it_is_sent(
    house: Served,
) -> None:
    marit, address = house.visitor("marit"), f"/awards/{INES_NUMBER}"
    before, page = covered_now(house), marit.get(address).text
    first, second, *left = before.skills
    offered = {box: box in html.unescape(page) for box in boxes(before)}
    why = {"because": "the wrist is hurt"}
    form = hidden(page, f"{address}/reduce") | why
    answers = [marit.post(f"{address}/reduce", data=form | {"without": first}) for _ in range(2)]
    other = marit.post(f"{address}/reduce", data=form | {"without": second})
    reduced, after = text_of(marit.get(address)), covered_now(house)
    anew = filled_in(marit, address, f"{address}/reduce", without=first, **why)
    back = filled_in(marit, address, f"{address}/rule", kind="restored", because="all well")
    late = marit.post(f"{address}/reduce", data=form | {"without": first})

    assert offered
    assert all(offered.values())
    assert "Give its full scope back" not in page
    assert [one.status_code for one in answers] == [303, 303]
    assert (other.status_code, "was ruled on since the page was read" in other.text) == (409, True)
    assert list(after.skills) == [second, *left]
    assert after.without == (before.skills[first],)
    assert f"Reduced since {day(TODAY)}, without: {before.skills[first]}." in reduced
    assert f"It covers: {before.skills[second]};" in reduced
    assert "Give its full scope back" in reduced
    assert "stays on the ground" in reduced
    assert (anew.status_code, "is taken away already" in text_of(anew)) == (409, True)
    assert (back.status_code, late.status_code) == (303, 409)
    assert covered_now(house) == before
    with at_the_desk(house) as desk:
        rulings = desk.book.rulings(granted(desk, INES_NUMBER).award.id)
    assert [one.kind for one in rulings] == ["reduced", "restored"]
    assert "Reduced since" not in text_of(marit.get(address))


def boxes(covers: Covered) -> list[str]:
    """What a page has that offers these skills, each by its title."""
    return [f'value="{skill}"> {title}</label>' for skill, title in covers.skills.items()]


@pytest.mark.parametrize(
    ("ticked", "because", "status", "words"),
    [
        pytest.param((), "a fall", 409, "no skill is named; name each that", id="none ticked"),
        pytest.param((0, 1), "", 422, "because", id="no reason"),
        pytest.param((0, 2), "Inês Carvalho Teles fell", 409, "it names", id="a name"),
        pytest.param(None, "a fall", 409, "nothing would be left of the scope", id="all ticked"),
    ],
)
def test_a_reduction_that_cannot_be_comes_back_with_each_box_as_it_was(
    house: Served, ticked: tuple[int, ...] | None, because: str, status: int, words: str
) -> None:
    address, before = f"/awards/{INES_NUMBER}", covered_now(house)
    skills = list(before.skills)
    chosen = skills if ticked is None else [skills[n] for n in ticked]
    marit = house.visitor("marit")
    form = hidden(marit.get(address).text, f"{address}/reduce") | {"because": because}
    answer = marit.post(f"{address}/reduce", data={**form, "without": chosen})
    page = html.unescape(answer.text)

    assert answer.status_code == status
    assert words in page
    assert re.findall(r'value="([a-z-]+)" checked', page) == chosen
    assert page.count(f">{because}</textarea>") == (1 if because else 2)
    assert covered_now(house) == before


def test_ticked_boxes_wait_for_whoever_was_signed_out_before_they_were_sent(house: Served) -> None:
    address, skills = f"/awards/{INES_NUMBER}", list(covered_now(house).skills)
    marit, form = house.visitor("marit"), {"because": "a fall, looked into", "without": skills[:2]}
    house.clock.later(hours=13)
    out = marit.post(f"{address}/reduce", data=form)
    other = house.visitor("all").get(address).text
    page = house.visitor("marit").get(address).text

    assert "kept=true" in out.headers["location"]
    assert " checked" not in other
    assert re.findall(r'value="([a-z-]+)" checked', page) == skills[:2]
    assert page.count(">a fall, looked into</textarea>") == 1
    assert "you were signed out before this was sent" in page


def test_a_pass_that_was_entered_and_not_awarded_is_listed(house: Served) -> None:
    marit = house.visitor("marit")
    address = f"/decisions/{NOOR}/{REFRESHER}"
    filled_in(marit, address, f"{address}/keep")
    with at_the_desk(house) as desk:
        (found,) = (one for one in to_decide(desk) if one.candidate == NOOR)

    assert found.passed_on == TODAY
    assert f"passed on {day(TODAY)}, not awarded" in marit.get("/decisions").text


def test_an_award_that_would_be_refused_is_not_offered_and_the_page_says_why(house: Served) -> None:
    marit = house.visitor("marit")
    address = f"/decisions/{NOOR}/{REFRESHER}"
    without = text_of(marit.get(address))
    with at_the_desk(house) as desk, pytest.raises(Refused) as refused:
        grant(desk, NOOR, REFRESHER, "marit-solheim-aune")
    show(house, PAPER)
    there = text_of(marit.get(address))

    assert "Award, confirmed by" not in without
    told = [in_words(line.strip()) for line in str(refused.value).splitlines()[1:]]
    with at_the_desk(house) as desk:
        assert all(named(line, names_of(desk)) in without for line in told)
    assert "Award, confirmed by Marit" in there
    assert "cannot award" not in there
    filled_in(marit, address, f"{address}/award")
    again = text_of(marit.get(address))
    assert "Award, confirmed by" not in again
    assert "cannot award this pass today" in again


def test_what_came_out_alike_from_other_evidence_is_not_entered_unread(house: Served) -> None:
    """The form comes again, late, after another lesson: nobody decided on that."""
    marit, hana = house.visitor("marit"), house.visitor("hana")
    address = f"/decisions/{PARVIN}/{TRAPEZE}"
    form = hidden(marit.get(address).text, f"{address}/keep")
    taps = lesson(hana, PARVIN)
    post(hana, *taps, sign(taps))
    late = marit.post(f"{address}/keep", data=form)

    with at_the_desk(house) as desk:
        assert decide_for(desk, PARVIN, TRAPEZE).decision.outcome == "more"  # as it was read
        assert not desk.book.decisions(PARVIN, TRAPEZE)
    assert late.status_code == 409
    assert "read it again" in text_of(late)


def test_an_award_that_is_asked_for_again_is_the_same_award(house: Served) -> None:
    """The answer was lost, and the button is pressed again."""
    marit = house.visitor("marit")
    address = f"/decisions/{NOOR}/{REFRESHER}"
    show(house, PAPER)
    form = hidden(marit.get(address).text, f"{address}/award")
    first, again = (marit.post(f"{address}/award", data=form) for _ in range(2))

    assert (first.status_code, again.status_code) == (303, 303)
    assert first.headers["location"] == again.headers["location"]
    with at_the_desk(house) as desk:
        numbers = [one.award.number for one in desk.book.awards(NOOR, past=True)]
        assert [one.decision.on for one in desk.book.decisions(NOOR, REFRESHER)].count(TODAY) == 1
    assert numbers.count(first.headers["location"].rpartition("/")[2]) == 1


def test_an_award_that_was_withdrawn_is_not_granted_by_a_form_that_comes_again(
    house: Served,
) -> None:
    marit = house.visitor("marit")
    address = f"/decisions/{NOOR}/{REFRESHER}"
    show(house, PAPER)
    form = hidden(marit.get(address).text, f"{address}/award")
    number = marit.post(f"{address}/award", data=form).headers["location"].rpartition("/")[2]
    ruling = ["--certifier", "marit-solheim-aune", "--because", "a slip", "--on", str(TODAY)]
    assert run(["withdraw", number, *ruling, "--school", str(house.folder)]) == 0
    show(house, PAPER | {"document": "insurance"})
    late = marit.post(f"{address}/award", data=form)

    assert "withdrawn" in text_of(marit.get(late.headers["location"]))
    with at_the_desk(house) as desk:
        assert desk.book.awards(NOOR)[-1].award.number == number


def test_an_award_is_not_granted_on_what_was_not_read(house: Served) -> None:
    marit = house.visitor("marit")
    address = f"/decisions/{NOOR}/{REFRESHER}"
    show(house, PAPER)
    form = hidden(marit.get(address).text, f"{address}/award")
    show(house, PAPER | {"document": "insurance"})
    with at_the_desk(house) as desk:
        before = desk.book.awards(NOOR, past=True)
    late = marit.post(f"{address}/award", data=form)

    assert late.status_code == 409
    assert "read it again" in text_of(late)
    with at_the_desk(house) as desk:
        assert desk.book.awards(NOOR, past=True) == before
