"""What somebody means harm with: slow, large, packed, sent from elsewhere, written to run."""

from __future__ import annotations

import asyncio
import csv
import io
import re
import secrets
import socket
import threading
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from html.parser import HTMLParser
from pathlib import Path

import httpx
import openpyxl
import pytest
import uvicorn
from fastapi.routing import APIRoute
from tests.web.browser import browser, sign_in
from tests.web.conftest import PASSWORD, Clock, Served, filled_in, served
from tests.web.records import RUBRIC, SHEET, begin, post, record, sign
from tests.web.test_roles import filled

from standfast.files import unpacking
from standfast.web.__main__ import server as the_server
from standfast.web.app import ROUTERS, create_app
from standfast.web.guard import MOST_BYTES, MOST_UPLOADED, Guard
from standfast.web.patience import Patient

HOST = "127.0.0.1"


# --- slow ---------------------------------------------------------------------------------------


@contextmanager
def running(server: uvicorn.Server) -> Iterator[int]:
    """That server in a thread; gives its port."""
    with socket.create_server((HOST, 0)) as listening:
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            assert thread.is_alive(), "the server did not start"
            time.sleep(0.01)
        try:
            yield listening.getsockname()[1]
        finally:
            server.should_exit = True
            thread.join(10)


def answered(to: socket.socket, within: float) -> bytes:
    """All that comes until the other side closes; fails when it does not in time."""
    to.settimeout(within)
    found = b""
    while part := to.recv(65_536):
        found += part
    return found


def dripped(port: int, text: bytes, each: float, within: float) -> tuple[bytes, float]:
    """What comes back, and after how long, when one byte is sent at a time."""
    began = time.monotonic()
    with socket.create_connection((HOST, port)) as slow:
        for place in range(len(text)):
            try:
                slow.sendall(text[place : place + 1])
            except OSError:  # closed already
                break
            time.sleep(each)
            if time.monotonic() - began > within:
                break
        try:
            return answered(slow, within), time.monotonic() - began
        except ConnectionResetError:
            return b"", time.monotonic() - began


def test_a_head_that_is_said_byte_by_byte_is_cut_off_and_others_are_answered(
    school: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Patient, "seconds", 1.0)
    with running(the_server(school, None)) as port, ExitStack() as crowd:
        for _ in range(200):
            one = crowd.enter_context(socket.create_connection((HOST, port)))
            one.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ")
        last = one
        began = time.monotonic()
        health = httpx.get(f"http://{HOST}:{port}/health", timeout=5)
        took = time.monotonic() - began
        said, after = dripped(port, b"GET /health HTTP/1.1\r\nX-A: " + b"b" * 100, 0.05, 8)

        assert health.status_code == 200
        assert took < 1
        assert said == b"" or said.startswith(b"HTTP/1.1 408 ")
        assert 0.9 < after < 4
        assert answered(last, 3).startswith(b"HTTP/1.1 408 ")


def test_whoever_says_nothing_is_not_waited_for(
    school: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Patient, "seconds", 0.5)
    with running(the_server(school, None)) as port, socket.create_connection((HOST, port)) as mute:
        assert answered(mute, 5).startswith(b"HTTP/1.1 408 ")


def test_a_second_request_on_one_connection_has_its_own_time(
    school: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Patient, "seconds", 0.6)
    ask = b"GET /health HTTP/1.1\r\nHost: x\r\n\r\n"
    with running(the_server(school, None)) as port, socket.create_connection((HOST, port)) as one:
        one.settimeout(5)
        for _ in range(4):
            one.sendall(ask)
            said = b""
            while not said.endswith(b"}"):
                said += one.recv(65_536)
            assert said.startswith(b"HTTP/1.1 200 ")
            time.sleep(0.4)
        one.sendall(ask[:9])

        assert answered(one, 5).startswith(b"HTTP/1.1 408 ")


def test_a_content_that_does_not_come_is_given_up(school: Path) -> None:
    app = create_app(school, Clock(), secrets.token_bytes).app
    config = uvicorn.Config(Guard(app, slowest=0.5), log_level="warning", lifespan="on")
    with running(uvicorn.Server(config)) as port, socket.create_connection((HOST, port)) as slow:
        slow.sendall(b"POST /sign-in HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\nlog")

        assert httpx.get(f"http://{HOST}:{port}/health").status_code == 200
        slow.settimeout(5)
        assert slow.recv(65_536).startswith(b"HTTP/1.1 408 ")


# --- addresses ----------------------------------------------------------------------------------

UP = ("..%2f", "%2e%2e/", "%2e%2e%2f", "..%5c", "%252e%252e%252f", "..%c0%af", "....//", "%00/")


def raw(house: Served, request: bytes) -> bytes:
    """The answer to these bytes; a client would tidy them."""
    port = int(house.address.rpartition(":")[2])
    with socket.create_connection((HOST, port)) as line:
        line.sendall(request + b"Connection: close\r\n\r\n")
        return answered(line, 10)


@pytest.mark.parametrize("up", UP)
@pytest.mark.parametrize("under", ["/static/", "/static/mat/", "/people/", "/certificates/"])
def test_no_address_leads_out_of_its_folder(
    reading_house: Served, visit: Callable[[str], httpx.Client], under: str, up: str
) -> None:
    cookie = visit("office").headers["cookie"].encode()
    for target in ("app.py", "school.yaml", "standfast.db", "etc/passwd", "x.pdf"):
        path = f"{under}{up * 6}{target}".encode()
        request = b"GET " + path + b" HTTP/1.1\r\nHost: x\r\nCookie: " + cookie + b"\r\n"
        said = raw(reading_house, request)

        assert re.match(rb"HTTP/1.1 (404|400) ", said), path
        assert b"root:" not in said
        assert b"SQLite format" not in said


@pytest.mark.parametrize(
    "host", [b"evil.example", b"[", b"a b", b"", b"evil.example/x", b"a@b:99999999", b"\xff"]
)
@pytest.mark.parametrize("path", [b"/", b"/due", b"/due/", b"/static", b"/sign-in", b"/nothing"])
def test_no_answer_leads_to_the_host_that_a_request_names(
    reading_house: Served, host: bytes, path: bytes
) -> None:
    said = raw(reading_house, b"GET " + path + b" HTTP/1.1\r\nHost: " + host + b"\r\n")
    head = said.partition(b"\r\n\r\n")[0].lower()

    assert re.match(rb"http/1.1 (200|303|404|400) ", head)
    assert b"evil" not in said
    assert not re.search(rb"\r\nlocation: (?!/[a-z])", head)


@pytest.mark.parametrize(
    "wanted",
    [
        "/a\r\nset-cookie: x=1",
        "/a%0d%0aset-cookie: x=1",
        "\r\n//evil.example",
        "/\t/evil.example",
        "/%09/evil.example",
        "//evil.example",
        "/\\evil.example",
        "\\/evil.example",
        "https:evil.example",
        "javascript:alert(1)",
        "/\u2028/evil.example",
        " //evil.example",
        "/\u00e5?x=\u65e5",
    ],
)
def test_where_to_go_next_is_one_of_our_pages_in_one_header(house: Served, wanted: str) -> None:
    form = {"login": "hana", "password": PASSWORD, "next": wanted}
    answer = house.visitor().post("/sign-in", data=form)
    page = house.visitor().get("/sign-in", params={"next": wanted})

    assert answer.status_code == 303
    assert re.match(r"/(?![/\\])[\x21-\x7e]*$", answer.headers["location"])
    assert httpx.URL("https://school.example/").join(answer.headers["location"]).host == (
        "school.example"
    )
    assert [name for name in answer.headers if name == "set-cookie"] == ["set-cookie"]
    assert "x=1" not in answer.headers["set-cookie"]
    assert "javascript:" not in page.text


@pytest.mark.parametrize("key", ["0", "-1", str(2**63), "9" * 4000, "9" * 5000, "1.5", "%00"])
@pytest.mark.parametrize("what", ["settle", "take"])
def test_a_number_that_is_none_of_ours_is_answered_as_such(
    reading_house: Served, visit: Callable[[str], httpx.Client], what: str, key: str
) -> None:
    answer = visit("office").post(f"/book/held/{key}/{what}", data={"because": "seen"})

    assert answer.status_code in {404, 422}


# --- sent from elsewhere ------------------------------------------------------------------------


def changing() -> list[tuple[str, str]]:
    """Every route that changes something."""
    return [
        (method, route.path)
        for router in ROUTERS
        for route in router.routes
        if isinstance(route, APIRoute)
        for method in (route.methods or set()) - {"GET", "HEAD"}
    ]


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "cross-site", "origin": "{own}"},
        {"origin": "https://evil.example"},
        {"origin": "{own}.evil.example"},
        {"origin": "null"},
        {"origin": "http://["},
        {"origin": "{own}/"},
    ],
    ids=str,
)
def test_nothing_is_changed_by_a_page_of_another_site(
    reading_house: Served, visit: Callable[[str], httpx.Client], headers: dict[str, str]
) -> None:
    own = {key: value.format(own=reading_house.address) for key, value in headers.items()}
    routes = changing()
    for method, path in routes:
        answer = visit("all").request(method, filled(path), headers=own)

        assert answer.status_code == 403, path
        assert "another site" in answer.text
    assert len(routes) >= 5
    assert visit("all").get("/").status_code == 200


def test_a_cookie_is_kept_for_this_host_and_taken_back_whole(house: Served) -> None:
    form = {"login": "hana", "password": PASSWORD}
    given = house.visitor().post("/sign-in", data=form).headers["set-cookie"]
    taken = house.visitor("hana").post("/sign-out").headers["set-cookie"]

    for cookie in (given, taken):
        assert {"Secure", "HttpOnly", "Path=/", "SameSite=lax"} <= set(cookie.split("; "))
        assert "domain" not in cookie.lower()
    assert "Max-Age=0" in taken


def test_no_secret_is_written_to_the_log_whatever_goes_wrong(
    school: Path, capfd: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture
) -> None:
    word = "a very own secret"
    with served(school, Clock()) as house:
        hana = house.visitor("hana")
        token = hana.headers["cookie"].partition("=")[2]
        for form in (
            {"login": "hana", "password": word},
            {"login": word, "password": word, "more": word},
            {"login": "hana", "password": word * 99},
        ):
            house.visitor().post("/sign-in", data=form)
        hana.post("/password", data={"old": word, "new": word, "again": f"{word} "})
        hana.post("/api/records", content=word.encode())
        (house.folder / "school.yaml").write_text("{", "utf-8")  # now the desk itself is at fault
        hana.get("/")
        hana.post("/password", data={"old": word, "new": word, "again": word})
    said = "".join(capfd.readouterr()) + caplog.text

    assert word not in said
    assert token not in said


# --- large and packed ---------------------------------------------------------------------------


def chunks(size: int) -> Iterator[bytes]:
    """So many bytes, whose number is not told before."""
    for _ in range(size // 65_536 + 1):
        yield b"x" * 65_536


@pytest.mark.parametrize(
    ("path", "most"),
    [("/sign-in", MOST_BYTES), ("/api/records", MOST_BYTES), ("/people/import", MOST_UPLOADED)],
)
def test_more_than_is_taken_is_refused_also_when_its_size_is_not_told(
    house: Served, path: str, most: int
) -> None:
    visitor = house.visitor("all")
    told = {"content-length": str(most + 1), "content-type": "text/plain"}
    port = int(house.address.rpartition(":")[2])
    with socket.create_connection((HOST, port)) as line:
        head = "".join(f"{name}: {value}\r\n" for name, value in told.items())
        line.sendall(f"POST {path} HTTP/1.1\r\nHost: x\r\n{head}\r\n".encode())
        assert line.recv(65_536).startswith(b"HTTP/1.1 413 ")  # before a byte of it was sent

    assert visitor.post(path, content=chunks(most)).status_code == 413
    assert visitor.get("/health").status_code == 200


def packed(parts: dict[str, bytes]) -> bytes:
    """A workbook with these parts in place of its own."""
    plain = io.BytesIO()
    book = openpyxl.Workbook()
    book.worksheets[0].append(["person", "name"])
    book.save(plain)
    made = io.BytesIO()
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for name in sorted({*old.namelist(), *parts}):
            new.writestr(name, parts.get(name) or old.read(name))
    return made.getvalue()


MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def sheet(cells: bytes, declared: bytes = b"") -> dict[str, bytes]:
    """A sheet with that inside."""
    text = b'<worksheet xmlns="%s"><sheetData>%s</sheetData></worksheet>' % (MAIN, cells)
    return {"xl/worksheets/sheet1.xml": declared + text}


ENTITIES = b"<!DOCTYPE l [<!ENTITY a '%s'>%s]>" % (
    b"a" * 100,
    b"".join(b"<!ENTITY %c '%s'>" % (98 + n, b"&%c;" % (97 + n) * 10) for n in range(8)),
)
TEXT = b"<row><c t='inlineStr'><is><t>&%c;</t></is></c></row>"
BOMBS: dict[str, Callable[[], tuple[str, bytes]]] = {
    "one row of millions of cells": lambda: (
        "a.xlsx",
        packed(sheet(b"<row>%s</row>" % (b"<c/>" * 10_000_000))),
    ),
    "millions of rows": lambda: ("a.xlsx", packed(sheet(b"<row/>" * 8_000_000))),
    "millions of texts": lambda: (
        "a.xlsx",
        packed(
            {"xl/sharedStrings.xml": b'<sst xmlns="%s">%s</sst>' % (MAIN, b"<si/>" * 9_000_000)}
        ),
    ),
    "millions of styles": lambda: (
        "a.xlsx",
        packed({"xl/styles.xml": b"<styleSheet>%s</styleSheet>" % (b"<xf/>" * 9_000_000)}),
    ),
    "too large when unpacked": lambda: ("a.xlsx", packed({"xl/more.xml": b" " * 70_000_000})),
    "entities in entities": lambda: ("a.xlsx", packed(sheet(TEXT % b"i", ENTITIES))),
    "a file of this machine": lambda: (
        "a.xlsx",
        packed(sheet(TEXT % b"f", b"<!DOCTYPE l [<!ENTITY f SYSTEM 'file:///etc/passwd'>]>")),
    ),
    "letters that hide its size": lambda: (
        "a.xlsx",
        packed(sheet(b"", b"<?xml version='1.0' encoding='cp037'?>")),
    ),
    "damaged": lambda: ("a.xlsx", packed({})[:-60].replace(b"\x00\x00", b"\x01\x02", 3)),
    "aliases": lambda: (
        "a.yaml",
        b"a: &a [x,x,x,x,x,x,x,x,x]\n"
        + b"".join(
            b"%c: &%c [%s]\n" % (98 + n, 98 + n, b",".join([b"*%c" % (97 + n)] * 9))
            for n in range(9)
        ),
    ),
    "many aliases": lambda: ("a.yaml", b"a: &a [x]\npeople:\n" + b"- *a\n" * 390_000),
    "deep": lambda: ("a.yaml", b"[" * 2_000_000),
    "millions of rows as text": lambda: ("a.csv", b"person,name\n" + b"a\n" * 900_000),
    "a million columns": lambda: ("a.csv", b"a," * 1_000_000),
    "one endless cell": lambda: ("a.csv", b'person,name\na,"' + b"a" * 1_900_000),
}


@pytest.mark.parametrize("bomb", BOMBS)
def test_a_small_file_that_grows_is_refused_soon_with_a_reason(
    house: Served, bomb: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    name, content = BOMBS[bomb]()
    office = house.visitor("office")
    before, began = resident(), time.monotonic()
    answer = filled_in(office, "/people/import", files={"file": (name, content)})
    took, grown = time.monotonic() - began, resident() - before

    assert answer.status_code in {413, 422}, answer.text[:500]
    assert answer.status_code == 413 or '<div class="told">' in answer.text
    assert len(answer.text) < 100_000
    assert "root:" not in answer.text
    assert took < 5
    assert grown < 150
    assert "1 new" in ordinary(office).text


def ordinary(office: httpx.Client) -> httpx.Response:
    rows = b"person,name\nnova-lind,Nova Lind (invented)\n"
    return filled_in(office, "/people/import", files={"file": ("a.csv", rows)})


def resident() -> float:
    """Megabytes that this process has at the most had so far."""
    import resource
    import sys

    size = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return size / (1 << 20 if sys.platform == "darwin" else 1 << 10)


def test_a_workbook_under_the_bound_is_read(tmp_path: Path) -> None:
    with zipfile.ZipFile(io.BytesIO(packed({}))) as book:
        assert unpacking.too_much(book) == ""
    rows = packed(sheet(b"<row><c/></row>" * 330_000))
    with zipfile.ZipFile(io.BytesIO(rows)) as book:
        assert unpacking.too_much(book) == ""
    rows = packed(sheet(b"<row><c/></row>" * 340_000))
    with zipfile.ZipFile(io.BytesIO(rows)) as book:
        assert "too large" in unpacking.too_much(book)


# --- where one comes from -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("host", "wanted"),
    [
        pytest.param("198.51.100.7", [403, 403, 429, 429], id="asks itself"),
        pytest.param("127.0.0.1", [403, 403, 403, 403], id="a proxy on this machine"),
    ],
)
def test_only_a_proxy_on_this_machine_says_who_really_asks(
    school: Path, monkeypatch: pytest.MonkeyPatch, host: str, wanted: list[int]
) -> None:
    monkeypatch.setattr("standfast.desk.access.FREE_FROM_ADDRESS", 2)
    app = create_app(school, Clock(), secrets.token_bytes)
    config = the_server(school, None).config
    config.app = app
    config.load()

    async def told() -> list[int]:
        transport = httpx.ASGITransport(config.loaded_app, client=(host, 4711))
        async with (
            app.app.router.lifespan_context(app.app),
            httpx.AsyncClient(transport=transport, base_url="http://house") as visitor,
        ):
            tries = [
                visitor.post(
                    "/sign-in",
                    data={"login": f"guess-{n}", "password": "no such words here"},
                    headers={"x-forwarded-for": f"203.0.113.{n}"},
                )
                for n in range(4)
            ]
            return [(await one).status_code for one in tries]

    assert asyncio.run(told()) == wanted


# --- written to run -----------------------------------------------------------------------------

EVIL = (
    "<script>document.title='ran'</script>",
    "<img src=x onerror=document.title='ran'>",
    "\" autofocus onfocus=\"document.title='ran'",
    "' onmouseover='document.title=1",
    "</title><script>document.title='ran'</script>",
    "</q></option></select><svg onload=document.title='ran'>",
    "javascript:document.title='ran'",
    "{{ 7*191 }}{% raw %}",
    "<!--",
    "=HYPERLINK(\"javascript:document.title='ran'\")",
)
PLACES = (
    *("/due?span=12m", "/people?q=%3Cscript%3E&site=%22%3E%3Cscript%3E", "/rubrics/low-trapeze-1"),
    *("/practicals/mill-2026-11-24", "/certificate?number=%22%3E%3Cscript%3E"),
    "/plan?day=2026-12-05&rubric=low-trapeze-1&candidate-1=%22%3E%3Cscript%3E",
)


class Tags(HTMLParser):
    """What on a page could run, and its texts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.runs: list[str] = []
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "script" and not any(key == "src" for key, _ in attrs):
            self.runs.append(tag)
        for key, value in attrs:
            address = re.sub(r"[\s\x00-\x1f]", "", value or "").lower()
            if (
                key.startswith("on")
                or key == "style"
                or (key != "value" and address.startswith(("javascript:", "data:")))
            ):  # what stands in a field is text
                self.runs.append(f"{tag} {key}={value}")

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def people_file() -> bytes:
    """One invented person for each text, with it in every place where a person is free to write."""
    made = "people:\n"
    for n, text in enumerate(EVIL):
        quoted = text.replace("'", "''")
        made += (
            f"- person: stranger-{n}\n  name: 'Nova {quoted}'\n  contact: '{quoted}'\n"
            f"  site: '{quoted}'\n  documents:\n  - {{document: first-aid, issued: 2026-01-01,"
            f" last_day: 2026-12-31, reference: '{quoted}'}}\n"
        )
    return made.encode()


@pytest.fixture
def strangers(school: Path) -> Iterator[Served]:
    """A school into whose book every text was brought: as people, documents, notes, and held."""
    with served(school, Clock()) as house:
        office, hana = house.visitor("office"), house.visitor("hana")
        entered = filled_in(office, "/people/import", files={"file": ("a.yaml", people_file())})
        assert f"{len(EVIL)} new" in entered.text, entered.text
        for n, text in enumerate(EVIL):
            form = {"document": "insurance", "issued": "2026-11-01", "last_day": "2026-12-01"}
            page = f"/people/stranger-{n}"
            told = filled_in(office, page, f"{page}/documents", **form, reference=text)
            assert told.status_code == 303, told.text
        for text in EVIL:
            assert filled_in(office, "/book/devices", name=text).status_code == 200
        candidate = hana.get("/api/kits").json()["candidates"][0]["id"]
        taps = [begin(candidate, site=EVIL[0])]
        taps += [record(n, kind="note", text=text) for n, text in enumerate(EVIL, 2)]
        taps.append(record(len(taps) + 1, kind="reason", text=EVIL[1]))
        assert set(post(hana, *taps, sign(taps))) == {"stored"}
        told_of = hana.get(f"/api/sheets/{SHEET}").json()
        assert told_of["state"] == "signed", told_of
        odd = [record(90 + n, number=90 + n, kind=text) for n, text in enumerate(EVIL)]
        assert set(post(hana, *odd)) == {"held"}
        yield house


def pages(house: Served) -> list[str]:
    """Every page on which something of it is shown."""
    kits = house.visitor("hana").get("/api/kits").json()
    candidate = kits["candidates"][0]["id"]
    everybody = house.visitor("all")
    plain = sorted(
        route.path
        for router in ROUTERS
        for route in router.routes
        if isinstance(route, APIRoute) and "GET" in (route.methods or ())
        if not re.search(r"\{|\.pdf$", route.path)
        if everybody.get(route.path).headers["content-type"].startswith("text/html")
    )
    assert len(plain) > 8
    each = [f"/people/stranger-{n}" for n in range(len(EVIL))]
    decided = f"/decisions/{candidate}/{RUBRIC}"
    return [*plain, *PLACES, *each, decided, f"/people/{candidate}"]


def test_what_was_written_to_run_is_shown_as_it_was_written(strangers: Served) -> None:
    everybody = strangers.visitor("all")
    shown = set()
    for address in pages(strangers):
        answer = everybody.get(address)
        tags = Tags(answer.text)
        words = "".join(tags.words)
        shown |= {text for text in EVIL if text in words}

        assert answer.status_code == (404 if "/certificate?" in address else 200), address
        assert tags.runs == [], address
        assert "1337" not in words
    assert shown == set(EVIL)
    assert "<q>&lt;img src=x onerror" in answer.text  # a note, on the last page: the candidate's
    for path in ("/sign-in", "/nothing"):
        for text in EVIL:
            page = strangers.visitor().get(path, params={"next": f"/{text}", "login": text})
            assert Tags(page.text).runs == []
    wrong = strangers.visitor().post("/sign-in", data={"login": EVIL[2], "password": "x"})
    assert Tags(wrong.text).runs == []


def test_the_parser_would_see_what_runs() -> None:
    assert Tags("<a href=' JavaScript:x'>").runs
    assert Tags("<img src=x onerror=x>").runs
    assert Tags("<script>x</script>").runs


@pytest.mark.slow
@pytest.mark.xdist_group("chromium")
def test_nothing_of_it_runs_in_a_browser(tmp_path: Path, strangers: Served) -> None:
    with browser(tmp_path / "profile") as found:
        page = found.page()
        sign_in(page, strangers, "all")
        for address in pages(strangers):
            page.goto(f"{strangers.address}{address}")
            page.mouse.move(100, 100)
            page.keyboard.press("Tab")
            page.wait_for_timeout(30)

            assert page.title() not in {"ran", "1"}, address
            assert page.evaluate("document.querySelectorAll('[onerror], [onload]').length") == 0
        # Not even something that the policy had to stop; 404 is the answer for no certificate.
        assert [text for text in found.complaints if "404" not in text] == []


FORMULA = re.compile(r"^[=+\-@\t\r]")


def test_a_name_is_no_formula_in_a_spreadsheet(strangers: Served) -> None:
    people = "person,name,site,first-aid issued,first-aid until\n" + "".join(
        f"sum-{n},{mark}1+1 Lind,Mill studio,2026-01-01,2026-12-31\n"
        for n, mark in enumerate("=+-@")
    )
    office = strangers.visitor("office")
    filled_in(office, "/people/import", files={"file": ("a.csv", people.encode())})
    rows = list(csv.reader(io.StringIO(office.get("/due/table.csv?span=12m").text)))
    workbook = openpyxl.load_workbook(io.BytesIO(office.get("/due/table.xlsx?span=12m").content))
    cells = [cell for row in workbook.worksheets[0].iter_rows() for cell in row]

    assert len(rows) > 1
    assert [cell for row in rows for cell in row if FORMULA.match(cell)] == []
    assert [cell.value for cell in cells if cell.data_type == "f"] == []
    assert RUBRIC in str(rows)
