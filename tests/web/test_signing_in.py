"""Who gets in, who does not, and what a session is worth."""

from __future__ import annotations

import secrets
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import httpx
import pytest
from argon2 import Type, extract_parameters
from tests.schools import bytes_of_book
from tests.web.conftest import NOW, PASSWORD, Clock, Served, served, token_of

from standfast.cli.app import run
from standfast.desk.access import (
    FREE_TRIES,
    IDLE,
    LONGEST,
    begin_sign_in,
    change_account,
    sign_in,
)
from standfast.desk.opening import Moment, open_desk
from standfast.problems import Refused
from standfast.web.guard import MOST_BYTES
from standfast.web.visitor import token_in

WRONG, OTHER = "another password entirely", "other words entirely"


def attempt(house: Served, login: str, password: str) -> httpx.Response:
    return house.visitor().post("/sign-in", data={"login": login, "password": password})


def test_whoever_is_not_signed_in_is_led_to_the_door_and_back(house: Served) -> None:
    visitor = house.visitor()
    led = visitor.get("/password?x=1")

    assert led.status_code == 303
    assert led.headers["location"] == "/sign-in?next=%2Fpassword%3Fx%3D1"

    form = {"login": "hana", "password": PASSWORD, "next": "/password?x=1"}
    assert visitor.post("/sign-in", data=form).headers["location"] == "/password?x=1"


@pytest.mark.parametrize("wanted", ["//evil.example/", "https://evil.example/", "/\\evil.example"])
def test_signing_in_leads_to_no_other_site(house: Served, wanted: str) -> None:
    form = {"login": "hana", "password": PASSWORD, "next": wanted}

    assert house.visitor().post("/sign-in", data=form).headers["location"] == "/"


def test_a_wrong_password_and_an_unknown_login_get_the_same_answer(house: Served) -> None:
    wrong, unknown = attempt(house, "hana", WRONG), attempt(house, "nobody", WRONG)

    assert wrong.status_code == unknown.status_code == 403
    assert wrong.text == unknown.text.replace('value="nobody"', 'value="hana"')
    assert "set-cookie" not in wrong.headers


def test_an_unknown_login_takes_as_long_and_must_wait_as_long_as_a_known_one(house: Served) -> None:
    with open_desk(house.folder, Moment(NOW, "test", secrets.token_bytes)) as desk:
        known, unknown = (begin_sign_in(desk, login, "x") for login in ("hana", "nobody"))
    for _ in range(FREE_TRIES):
        answers = [attempt(house, login, WRONG) for login in ("hana", "nobody")]
    late = [attempt(house, login, WRONG) for login in ("hana", "nobody")]

    assert known.kept != unknown.kept
    assert extract_parameters(known.kept) == extract_parameters(unknown.kept)
    assert [one.status_code for one in (*answers, *late)] == [403, 403, 429, 429]
    assert late[0].headers["retry-after"] == late[1].headers["retry-after"]
    assert late[0].text == late[1].text.replace('value="nobody"', 'value="hana"')


def test_signing_in_gives_a_new_token_whatever_cookie_was_there(house: Served) -> None:
    visitor = house.visitor("hana")
    first = token_of(visitor)
    again = visitor.post("/sign-in", data={"login": "hana", "password": PASSWORD})

    assert first not in again.headers["set-cookie"]


def test_the_cookie_is_for_this_host_alone_and_for_no_script(house: Served) -> None:
    cookie = attempt(house, "hana", PASSWORD).headers["set-cookie"]

    assert cookie.startswith("__Host-standfast=")
    assert {"Secure", "HttpOnly", "Path=/", "SameSite=lax"} <= set(cookie.split("; "))
    assert "Domain" not in cookie


def test_a_session_that_was_signed_out_is_worth_nothing(house: Served) -> None:
    visitor = house.visitor("hana")
    assert visitor.get("/").status_code == 200
    visitor.post("/sign-out")

    assert visitor.get("/").status_code == 303


@pytest.mark.parametrize(
    ("wait", "lets_in"), [(IDLE - timedelta(minutes=1), 200), (IDLE * 1.01, 303)]
)
def test_a_session_ends_when_it_is_not_used(house: Served, wait: timedelta, lets_in: int) -> None:
    visitor = house.visitor("hana")
    house.clock.now += wait

    assert visitor.get("/").status_code == lets_in


def test_a_session_ends_in_the_end_however_much_it_is_used(house: Served) -> None:
    visitor = house.visitor("hana")
    for _ in range(int(LONGEST / IDLE) * 2):
        house.clock.now += IDLE / 2
        assert visitor.get("/").status_code == 200
    house.clock.now += IDLE / 2

    assert visitor.get("/").status_code == 303


def test_a_closed_account_gets_in_no_more_and_is_out_at_once(house: Served) -> None:
    visitor = house.visitor("hana")
    with open_desk(house.folder, Moment(house.clock.now, "test", bytes)) as desk:
        desk.book.access.close("hana", house.clock.now)

    assert visitor.get("/").status_code == 303
    assert attempt(house, "hana", PASSWORD).status_code == 403


def test_after_too_many_failures_the_right_password_must_wait_too(house: Served) -> None:
    for _ in range(FREE_TRIES):
        assert attempt(house, "hana", WRONG).status_code == 403
    refused = attempt(house, "hana", PASSWORD)

    assert refused.status_code == 429
    assert int(refused.headers["retry-after"]) == 30
    assert attempt(house, "leilani", PASSWORD).status_code == 303

    house.clock.later(seconds=31)
    assert attempt(house, "hana", PASSWORD).status_code == 303


def test_a_server_that_begins_again_has_forgiven_no_failure(school: Path) -> None:
    for _ in range(FREE_TRIES):
        with served(school, Clock()) as house:
            assert attempt(house, "hana", WRONG).status_code == 403
    with served(school, Clock()) as house:
        assert attempt(house, "hana", PASSWORD).status_code == 429
        assert attempt(house, "leilani", PASSWORD).status_code == 303


def test_a_password_and_a_pin_are_kept_under_argon2id(house: Served) -> None:
    with open_desk(house.folder, Moment(NOW, "test", secrets.token_bytes)) as desk:
        change_account(desk, "hana", pin="4711")
        found = desk.book.access.find("hana")
    assert found is not None
    for kept in (found[1].password, str(found[1].pin)):
        told = extract_parameters(kept)

        assert told.type is Type.ID
        assert (told.memory_cost, told.time_cost, told.parallelism) == (65_536, 3, 4)
        assert (told.salt_len, told.hash_len) == (16, 32)  # RFC 9106, 4, the second choice


def test_changing_the_password_ends_every_session_and_the_old_one_is_worth_nothing(
    house: Served,
) -> None:
    here, elsewhere = house.visitor("hana"), house.visitor("hana")
    form = {"old": PASSWORD, "new": "other words entirely", "again": "other words entirely"}
    changed = here.post("/password", data=form)

    assert changed.status_code == 303
    assert elsewhere.get("/").status_code == 303
    assert attempt(house, "hana", PASSWORD).status_code == 403
    assert attempt(house, "hana", "other words entirely").status_code == 303


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("/password", {"old": PASSWORD, "new": "other words here", "again": "other words here"}),
        ("/pin", {"password": PASSWORD, "pin": "4711"}),
    ],
)
def test_whoever_sends_a_change_twice_is_not_told_that_nothing_was_entered(
    house: Served, path: str, form: dict[str, str]
) -> None:
    """The first one changed it and ended the session; its answer was lost on the way."""
    hana = house.visitor("hana")
    hana.post(path, data=form)
    again = hana.post(path, data=form)
    door = house.visitor().get(again.headers["location"]).text

    assert again.status_code == 303
    assert "the first may have counted, a new password or PIN too" in door


def test_a_password_that_is_changed_while_it_is_checked_lets_nobody_in(house: Served) -> None:
    now = Moment(NOW, "test", secrets.token_bytes)
    with open_desk(house.folder, now) as desk:
        trying = begin_sign_in(desk, "hana", "x")
        change_account(desk, "hana", password=OTHER)

        assert sign_in(desk, trying, matched=True) is None
        late = begin_sign_in(desk, "hana", "x")
        desk.book.access.close("hana", NOW)
        assert sign_in(desk, late, matched=True) is None


def test_of_two_changes_by_one_old_password_one_counts(house: Served) -> None:
    now = Moment(NOW, "test", secrets.token_bytes)
    with open_desk(house.folder, now) as desk:
        shown = begin_sign_in(desk, "hana", "x")
        change_account(desk, "hana", password=OTHER, shown=shown)
        with pytest.raises(Refused, match="changed meanwhile"):
            change_account(desk, "hana", password=WRONG, shown=shown)

    assert attempt(house, "hana", OTHER).status_code == 303


def test_a_failure_to_change_a_password_counts_for_where_it_comes_from(house: Served) -> None:
    here = house.visitor("hana")
    form = {"old": WRONG, "new": OTHER, "again": OTHER}
    told = [here.post("/password", data=form).status_code for _ in range(FREE_TRIES + 1)]
    with open_desk(house.folder, Moment(NOW, "test", secrets.token_bytes)) as desk:
        counted = {one: desk.book.access.failures(one) for one in ("from:127.0.0.1", "login:hana")}

    assert told == [409] * FREE_TRIES + [429]
    assert {one: found and found.count for one, found in counted.items()} == dict.fromkeys(
        counted, FREE_TRIES
    )


def test_signing_out_twice_is_signing_out(house: Served) -> None:
    visitor, other = house.visitor("hana"), house.visitor("hana")
    first, again = visitor.post("/sign-out"), visitor.post("/sign-out")

    assert (first.headers["location"], again.headers["location"]) == ("/sign-in", "/sign-in")
    assert "__Host-standfast" in again.headers["set-cookie"]
    assert other.get("/").status_code == 200


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"old": WRONG, "new": "x" * 20, "again": "x" * 20}, "the old password is another"),
        ({"old": PASSWORD, "new": "x" * 20, "again": "y" * 20}, "typed in two ways"),
        ({"old": PASSWORD, "new": "short", "again": "short"}, "12 to 200 characters"),
    ],
)
def test_a_password_is_not_changed_when_something_is_wrong(
    house: Served, form: dict[str, str], words: str
) -> None:
    answer = house.visitor("hana").post("/password", data=form)

    assert answer.status_code == 409
    assert words in answer.text
    assert attempt(house, "hana", PASSWORD).status_code == 303


@pytest.mark.parametrize(
    ("headers", "let_in"),
    [
        ({"sec-fetch-site": "cross-site"}, False),
        ({"sec-fetch-site": "same-site"}, False),
        ({"sec-fetch-site": "same-origin"}, True),
        ({"sec-fetch-site": "none"}, True),
        ({"origin": "https://evil.example"}, False),
        ({"origin": "null"}, False),
        ({}, True),
    ],
)
def test_only_our_own_pages_change_anything(
    house: Served, headers: dict[str, str], let_in: bool
) -> None:
    answer = house.visitor("hana").post("/sign-out", headers=headers)

    assert answer.status_code == (303 if let_in else 403)


def test_our_own_origin_is_let_in(house: Served) -> None:
    answer = house.visitor("hana").post("/sign-out", headers={"origin": house.address})

    assert answer.status_code == 303


def test_more_than_a_form_is_refused_before_it_is_read(house: Served) -> None:
    answer = house.visitor().post("/sign-in", content=b"x" * (MOST_BYTES + 1))

    assert answer.status_code == 413


@pytest.mark.parametrize(
    "address", ["/", "/sign-in", "/nothing/here", "/static/pages.css", "/health"]
)
def test_every_answer_carries_the_policy(house: Served, address: str) -> None:
    headers = house.visitor().get(address).headers
    rules = {rule.strip() for rule in headers["content-security-policy"].split(";")}

    assert {"default-src 'none'", "script-src 'self'", "style-src 'self'"} <= rules
    assert {"require-trusted-types-for 'script'", "trusted-types sw"} <= rules
    assert "'unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"


def test_what_is_shown_to_one_is_kept_by_no_cache(house: Served) -> None:
    assert house.visitor("hana").get("/").headers["cache-control"] == "no-store"


@pytest.mark.parametrize("text", ["", "%", "ä", "a", "A" * 500])
def test_a_cookie_that_is_none_is_nobody(text: str) -> None:
    assert isinstance(token_in(text), bytes)


def test_the_file_of_the_book_holds_no_token_and_no_password(house: Served) -> None:
    visitor = house.visitor("hana")
    token = token_in(token_of(visitor))
    kept = bytes_of_book(house.folder)

    assert len(token) == 32
    for way in (token, token.hex().encode(), token_of(visitor).encode(), PASSWORD.encode()):
        assert way not in kept
    assert sha256(token).digest() in kept


def test_an_erased_person_gets_in_no_more(house: Served) -> None:
    visitor = house.visitor("hana")
    assert run(["book", "forget", "hana-dvorakova", "--yes", "--school", str(house.folder)]) == 0

    assert visitor.get("/").status_code == 303
    assert attempt(house, "hana", PASSWORD).status_code == 403
