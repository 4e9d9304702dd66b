"""The page as a person uses it: from a disk without network, and on the school's own site."""

from __future__ import annotations

import dataclasses
import functools
import io
import json
import threading
from collections.abc import Callable, Iterator
from datetime import timedelta
from hashlib import sha256
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from playwright.sync_api import FilePayload, Page, expect
from tests.published.test_credential_cases import (
    KEY,
    NOW,
    PLACE,
    SCHOOL,
    STRANGER,
    TRUSTED,
    patched,
    sample,
    signed,
    status_list,
)
from tests.seal.conftest import QUESTIONS, Checking, alone, on_site
from tests.seal.test_check_page import TOKEN, over_bytes
from tests.web.browser import DESK, TALL_PHONE, Size, browser
from tests.web.measuring import small, violations

from standfast.desk.proving import check_receipt
from standfast.model import tree
from standfast.model.canonical import canonical
from standfast.model.caution import CAUTION
from standfast.seal import check_page, receipts, trust
from standfast.seal.token import token
from standfast.seal.trust import ListedKey

pytestmark = pytest.mark.xdist_group("chromium")

CERTIFICATE = canonical(signed(sample()))
TRUST = trust.made(SCHOOL, "Example Flying School", TRUSTED.keys, KEY, NOW).content
SAME = "It is the same: believe this school"


@pytest.fixture
def tab(checking: Checking, page_file: Path) -> Iterator[Page]:
    """The page in a tab of its own, at the day of the cases, with nothing remembered."""
    with alone(checking.apart) as found:
        found.clock.set_fixed_time(NOW)
        found.goto(page_file.as_uri())
        found.evaluate("standfast.begun")
        yield found


def give(page: Page, **files: bytes) -> None:
    """Picks files, with _ for the dot of their names."""
    payloads: list[FilePayload] = [
        {"name": name.replace("_", "."), "mimeType": "", "buffer": content}
        for name, content in files.items()
    ]
    page.set_input_files("#files", payloads)
    for name in files:
        page.locator("#given li", has_text=name.replace("_", ".")).first.wait_for()


def told(page: Page) -> dict[str, str]:
    """The answers of the first table, by what is asked."""
    page.evaluate("standfast.show()")
    rows = page.locator("article").first.locator("tbody tr")
    found = {
        row.locator("th").inner_text(): row.locator(".answer").inner_text().split(maxsplit=1)[1]
        for row in rows.all()
    }
    return {QUESTIONS[text]: answer for text, answer in found.items()}


def believe(page: Page) -> None:
    give(page, trust_json=TRUST)
    page.get_by_role("button", name=SAME).click()


def again(page: Page, act: Callable[[Page], object]) -> None:
    """Does what the page must remember, and opens it once more.

    Chromium loses one write of `localStorage` in some hundreds when the machine is busy: seen in
    its own tab, and never again. What was lost is done anew.
    """
    remembers = "localStorage.getItem('standfast-trust')"
    for _ in range(5):
        act(page)
        written = page.evaluate(remembers)
        page.reload()
        page.evaluate("standfast.begun")
        if page.evaluate(remembers) == written:
            return
    raise AssertionError("the browser holds nothing of what the page wrote")


GOOD = dict.fromkeys(("shape", "signature", "key", "dates", "revocation"), "yes")


# From a disk


def test_a_certificate_is_checked_from_files_alone(tab: Page) -> None:
    requests: list[str] = []
    tab.on("request", lambda request: requests.append(request.url))
    give(tab, certificate_json=CERTIFICATE)
    unknown = told(tab)
    give(tab, trust_json=TRUST)
    asked = told(tab)
    fingerprint = tab.locator(".fingerprint").inner_text()
    tab.get_by_role("button", name=SAME).click()
    without = told(tab)
    give(tab, list_json=status_list())
    tab.fill("#name", "Ada Example")
    whole = told(tab)
    tab.fill("#name", "Eve Example")

    assert unknown == asked == GOOD | {"key": "not known", "revocation": "not known"}
    assert "".join(fingerprint.split()) == KEY.public.thumbprint
    assert without == GOOD | {"revocation": "not known"}
    assert whole == GOOD | {"holder": "yes"}
    assert told(tab) == GOOD | {"holder": "no"}
    assert requests == []


def test_a_school_that_was_compared_is_remembered_until_it_is_forgotten(tab: Page) -> None:
    keys = []

    def check(page: Page) -> None:
        give(page, certificate_json=CERTIFICATE)
        keys.append(told(page)["key"])

    def forget(page: Page) -> None:
        check(page)
        page.get_by_role("button", name="Do not believe").click()
        keys.append(told(page)["key"])

    again(tab, believe)
    says = tab.locator("#schools").inner_text()
    again(tab, forget)
    check(tab)

    assert keys[-3:] == ["yes", "not known", "not known"]
    assert "compared on 2026-06-01, as this browser remembers" in says
    assert "None yet" in tab.locator("#schools").inner_text()


def test_what_was_changed_in_the_browsers_memory_is_not_believed(tab: Page) -> None:
    again(tab, believe)
    again(
        tab,
        lambda page: page.evaluate(
            "localStorage.setItem('standfast-trust',"
            " localStorage.getItem('standfast-trust').replace('Flying', 'Lying'))"
        ),
    )

    assert "None yet" in tab.locator("#schools").inner_text()


def test_a_later_trust_file_is_believed_by_the_key_that_is_known_and_no_other_is(tab: Page) -> None:
    new = ListedKey(key=STRANGER.public.multikey, since="2026-05-01T00:00:00Z")
    rotated = trust.made(SCHOOL, "Example Flying School", (*TRUSTED.keys, new), KEY, NOW)
    strange = trust.made(SCHOOL, "Example Flying School", (new,), STRANGER, NOW)
    by_new = canonical(signed(sample(), STRANGER))
    give(tab, certificate_json=by_new)
    believe(tab)
    before = told(tab)
    give(tab, strange_json=strange.content)
    asked = tab.locator("#schools").inner_text()
    offered = told(tab)
    tab.get_by_role("button", name="It is another").click()
    give(tab, rotated_json=rotated.content)

    assert (before["key"], offered["key"]) == ("no", "no")
    assert "does not list" in asked
    assert told(tab)["key"] == "yes"


def test_no_fingerprint_brings_back_a_revoked_key_or_an_older_file(tab: Page) -> None:
    later, earlier = NOW + timedelta(days=1), NOW - timedelta(days=1)
    second = ListedKey(key=STRANGER.public.multikey, since="2026-05-01T00:00:00Z")
    stolen = TRUSTED.keys[0].model_copy(update={"revoked": "2026-05-02T00:00:00Z"})
    keys = (stolen, second)
    newest = trust.made(SCHOOL, "Example Flying School", keys, STRANGER, NOW).content
    give(tab, trust_json=newest)
    tab.get_by_role("button", name=SAME).click()
    for name, by, when in (("stolen", KEY, later), ("older", STRANGER, earlier)):
        listed = (TRUSTED.keys[0], second)
        offered = trust.made(SCHOOL, "Example Flying School", listed, by, when)
        give(tab, **{f"{name}_json": offered.content})
    notes = tab.locator("#given").inner_text()
    give(tab, certificate_json=CERTIFICATE)

    assert "stolen.json: signed with a key that the school revoked on 2026-05-02" in notes
    assert "older.json: older than what is known" in notes
    assert tab.get_by_role("button", name=SAME).count() == 0
    assert told(tab)["key"] == "not known"


def test_names_in_a_certificate_are_text_and_nothing_else(tab: Page) -> None:
    hostile = "<img src=x onerror=alert(1)><script>alert(2)</script>\"'`${alert(3)}</style>"
    document = sample() | {"name": hostile, "description": hostile}
    document["credentialSubject"]["achievement"]["name"] = hostile
    document["credentialSubject"]["identifier"][0]["identityHash"] = hostile
    document["credentialSubject"]["licenseNumber"] = hostile
    document["issuer"]["name"] = hostile
    made = trust.made(SCHOOL, hostile, TRUSTED.keys, KEY, NOW).content
    dialogs: list[str] = []
    tab.on("dialog", lambda one: dialogs.append(one.message))
    give(tab, trust_json=made)
    tab.get_by_role("button", name=SAME).click()
    give(tab, **{"<img src=x onerror=alert(4)>_json": canonical(signed(document))})
    tab.fill("#name", hostile)

    assert told(tab)["holder"] == "yes"
    assert tab.locator("main img, main script, main style").count() == 0
    assert hostile in tab.locator("#found").inner_text()
    assert dialogs == []


def test_what_is_no_certificate_is_said_to_be_none(tab: Page) -> None:
    odd = (b'{"kind":{}}', b'{"type":{"includes":1}}', b'{"type":null}', b'{"name":"%PDF-1.7"}')
    for content in (b"", b"{}", b"[1]", b"null", b"\xff\x00", b'{"a":1,"a":2}', b"%PD", *odd):
        tab.get_by_role("button", name="Take all of it away").click()
        give(tab, some_json=content)

        assert told(tab) == {"shape": "no"}
        assert tab.locator("#given").inner_text() == "some.json: nothing that is known here"


def test_a_signed_head_is_none_of_this_pages_files(tab: Page) -> None:
    give(tab, head_json=canonical(receipts.signed_head(SCHOOL, 1, bytes(32), KEY, NOW)))

    said = "head.json: the signed head of a record book: ask 'standfast verify'"
    assert tab.locator("#given").inner_text() == said
    assert tab.locator("article").count() == 0
    assert "No certificate and no code was given yet" in tab.locator("#found").inner_text()


def test_beside_the_files_it_says_at_once_how_many_questions_speak_against_it(tab: Page) -> None:
    before = tab.locator("#found").inner_text()
    give(tab, certificate_json=CERTIFICATE, list_json=status_list(PLACE))
    believe(tab)
    told(tab)

    assert before == "Nothing was given yet."
    assert tab.locator("#given + #status").is_visible()
    says = "certificate.json: Of 5 questions: 1 no, 4 yes."
    assert tab.locator("#status").inner_text() == says


def test_no_day_is_broken_over_two_lines(tab: Page) -> None:
    give(tab, certificate_json=CERTIFICATE, list_json=status_list())
    believe(tab)
    told(tab)
    tab.set_viewport_size({"width": 320, "height": 900})
    high = "all => all.map(one => one.getClientRects().length)"

    assert tab.locator(".day").evaluate_all(high) == [1] * 4


def test_several_certificates_are_each_asked_about(tab: Page) -> None:
    changed = canonical(patched(signed(sample()), "replace", "/name", "Other"))
    give(tab, one_json=CERTIFICATE, two_json=changed)
    tab.evaluate("standfast.show()")
    texts = [one.inner_text() for one in tab.locator("article").all()]

    assert len(texts) == 2
    assert tab.locator("#status").inner_text().count("questions:") == 2
    assert "it was changed after it was signed" not in texts[0]
    assert "it was changed after it was signed" in texts[1]


def test_without_ed25519_nothing_is_answered_and_the_page_says_what_to_do(
    checking: Checking, page_file: Path
) -> None:
    with alone(checking.apart) as tab:
        tab.add_init_script(
            "crypto.subtle.importKey ="
            " () => Promise.reject(new DOMException('x', 'NotSupportedError'))"
        )
        tab.goto(page_file.as_uri())
        tab.evaluate("standfast.begun")
        give(tab, certificate_json=CERTIFICATE)
        answers = told(tab)
        says = tab.locator("#cannot").inner_text()

    assert answers == {"signature": "not known"}
    assert "standfast verify" in says
    assert "newer" in says


def test_the_policy_lets_nothing_in_and_nothing_out(
    checking: Checking, page_file: Path, tmp_path: Path
) -> None:
    with browser(tmp_path, DESK, touch=False, playwright=checking.playwright) as found:
        answered: list[str] = []
        found.context.on("response", lambda response: answered.append(response.url))
        tab = found.page()
        tab.goto(page_file.as_uri())
        tab.evaluate("standfast.begun")
        refused = tab.evaluate(
            """async () => {
              const refused = new Set();
              document.addEventListener("securitypolicyviolation",
                event => refused.add(event.effectiveDirective));
              const tries = [
                () => fetch("https://elsewhere.example/"),
                () => { document.body.innerHTML = "<b>x</b>"; },
                () => { document.createElement("script").text = "window.hit = 1"; },
                () => document.body.setAttribute("onclick", "window.hit = 1"),
                () => document.body.click(),
                () => document.body.setAttribute("style", "color: red"),
              ];
              for (const one of tries) try { await one(); } catch { /* as it should */ }
              const image = document.createElement("img");
              image.src = "https://elsewhere.example/x.png";
              document.body.append(image);
              await new Promise(done => image.onerror = done);
              return [...refused, String(window.hit)];
            }"""
        )

    assert set(refused) == {
        *("connect-src", "img-src", "require-trusted-types-for", "style-src-attr", "undefined"),
    }
    assert answered == [page_file.as_uri()]


# PDF


def pdf(*attached: bytes, **how: Any) -> bytes:  # noqa: ANN401 - as pikepdf takes it
    made = pikepdf.new()
    made.add_blank_page()
    for number, content in enumerate(attached):
        made.attachments[f"{number}.json"] = content
    out = io.BytesIO()
    made.save(out, **how)
    return out.getvalue()


@pytest.mark.parametrize(
    "how",
    [
        {"compress_streams": True, "object_stream_mode": pikepdf.ObjectStreamMode.generate},
        {"compress_streams": False, "stream_decode_level": pikepdf.StreamDecodeLevel.generalized},
        {"linearize": True},
    ],
    ids=["packed", "plain", "linearized"],
)
def test_the_certificate_in_a_pdf_is_found(tab: Page, how: dict[str, Any]) -> None:
    inside = (TRUST, CERTIFICATE, status_list(), receipt_of(signed(sample()), 3, 1))
    give(tab, paper_pdf=pdf(*inside, **how))
    told(tab)
    before = tab.locator("#found").inner_text()
    tab.get_by_role("button", name=SAME).click()

    assert "its receipt is not believed, so that it is not shown to be, byte by byte" in before
    assert told(tab) == GOOD | {"book": "yes", "paper": "not known"}
    assert "may have been painted over its own" in tab.locator("#found").inner_text()


def test_a_pdf_that_shows_nothing_is_said_to(tab: Page) -> None:
    locked = pdf(CERTIFICATE, encryption=pikepdf.Encryption(owner="x", user="x"))
    cut = pdf(CERTIFICATE)
    cut = cut[: cut.index(b"/EmbeddedFile") + 200]
    give(tab, blank_pdf=pdf(), locked_pdf=locked, cut_pdf=cut)
    notes = tab.locator("#given").inner_text()

    assert "no file attached inside: ask for the certificate's .json" in notes
    assert "the PDF is locked" in notes
    assert tab.locator("article").count() == 0


def test_one_attached_file_that_cannot_be_read_hides_no_other(tab: Page) -> None:
    whole = pdf(status_list(), CERTIFICATE, compress_streams=True)
    at = whole.index(b"stream\n", whole.index(b"/EmbeddedFile")) + 20
    older = trust.made(SCHOOL, "x", TRUSTED.keys, KEY, NOW - timedelta(days=1)).content
    believe(tab)
    give(
        tab,
        broken_pdf=whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :],
        older_pdf=pdf(older, status_list()),
    )
    notes = tab.locator("#given li").all_inner_texts()[1:]

    assert notes == [
        "broken.pdf, inside: an attached file cannot be unpacked whole",
        "broken.pdf, inside: certificate",
        f"older.pdf, inside: older than what is known, which was made on {NOW:%Y-%m-%dT%H:%M:%SZ}",
        "older.pdf, inside: list of what was taken back",
    ]
    assert told(tab) == GOOD | {"paper": "not known"}


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ({"compress_streams": True}, "cannot be unpacked whole"),
        ({"compress_streams": False}, "has more than 1048576 bytes"),
    ],
    ids=["packed", "plain"],
)
def test_an_attached_file_that_is_too_large_is_not_held_in_memory(
    tab: Page, how: dict[str, Any], says: str
) -> None:
    give(tab, paper_pdf=pdf(bytes((1 << 20) + 1), CERTIFICATE, **how))

    assert tab.locator("#given li").all_inner_texts() == [
        f"paper.pdf, inside: an attached file {says}",
        "paper.pdf, inside: certificate",
    ]


def test_what_is_too_large_or_cannot_be_opened_is_named_and_the_rest_is_read(tab: Page) -> None:
    tab.evaluate(
        """async () => {
          const large = new File([new Uint8Array(8_000_001)], "large.pdf");
          const gone = new File([], "gone.json");
          gone.arrayBuffer = () => Promise.reject(new DOMException("x", "NotFoundError"));
          for (const one of [large, gone]) await standfast.take(one);
        }"""
    )
    give(tab, certificate_json=CERTIFICATE)

    assert tab.locator("#given li").all_inner_texts() == [
        "large.pdf: more than 8000000 bytes: too large for a certificate",
        "gone.json: this page cannot read it: x",
        "certificate.json: certificate",
    ]


# The receipt


def receipt_of(document: dict[str, Any], size: int, index: int) -> bytes:
    entry = {"body": {"issued": {"digest": sha256(canonical(document)).hexdigest()}}, "kind": "x"}
    return receipt_with(canonical(entry), size, index)


def receipt_with(entry: bytes, size: int, index: int) -> bytes:
    leaves = [tree.leaf_hash(bytes([number])) for number in range(size)]
    leaves[index] = tree.leaf_hash(entry)
    head = receipts.signed_head(SCHOOL, size, tree.root(leaves), KEY, NOW)
    return receipts.receipt(entry, index, tree.inclusion_proof(leaves, index), head)


def test_receipts_show_the_same_to_the_page_and_to_python(checking: Checking) -> None:
    document = signed(sample())
    good = receipt_of(document, 11, 6)
    contents = [receipt_of(document, size, at) for size in (1, 2, 7, 8, 13) for at in range(size)]
    changes: list[Callable[[Any], object]] = [
        lambda one: one["path"].pop(),
        lambda one: one["path"].reverse(),
        lambda one: one.update(index=5),
        lambda one: one.update(entry="{}"),
        lambda one: one.update(entry="{"),
        lambda one: one["head"].update(size=12),
        lambda one: one["head"].update(root="0" * 64),
        lambda one: one["head"].update(issuer="https://elsewhere.example/issuer"),
        lambda one: one["head"]["proof"][0].update(cryptosuite="eddsa-rdfc-2022"),
        lambda one: one.update(more=1),
    ]
    for change in changes:
        one = json.loads(good)
        change(one)
        contents.append(canonical(one))
    entry = json.loads(good)["entry"].encode()
    odd = (entry.replace(b'"x"', b"NaN"), entry.replace(b'"digest"', b'"digest":"x","digest"'))
    contents += [b"{}", receipt_of(sample(), 11, 6), *(receipt_with(one, 2, 1) for one in odd)]
    by_python = [check_receipt(one, document, [TRUSTED]).answer for one in contents]
    script = """async ([document, trusted, texts]) => {
      const { checkReceipt, readJson, utf8 } = standfast;
      const meant = readJson(utf8(document));
      const said = texts.map(one => checkReceipt(utf8(one), meant, [{ file: trusted }]));
      return (await Promise.all(said)).map(one => one.answer);
    }"""
    told_by_page = checking.page.evaluate(
        script,
        [
            canonical(document).decode(),
            TRUSTED.model_dump(mode="json"),
            [one.decode() for one in contents],
        ],
    )

    assert told_by_page == by_python
    assert by_python == ["yes"] * 31 + ["no"] * 14


def test_a_receipt_answers_whether_it_stands_in_the_book(tab: Page) -> None:
    document = signed(sample())
    believe(tab)
    give(tab, certificate_json=canonical(document), receipt_json=receipt_of(document, 3, 1))

    assert told(tab)["book"] == "yes"


# On the school's own site


SITE = SCHOOL.removesuffix("issuer")
FILES = {
    "v/index.html": check_page.page(),
    "verify.html": check_page.page(),
    "trust.json": TRUST,
    "status/1": status_list(),
}


@pytest.mark.parametrize("name", ["v/", "verify.html", "v/index.html"])
def test_on_its_own_site_the_school_says_its_keys_and_its_lists(
    checking: Checking, tmp_path: Path, name: str
) -> None:
    with on_site(checking.playwright, tmp_path, (SITE, name), FILES) as (tab, requests):
        give(tab, certificate_json=CERTIFICATE)

        assert told(tab) == GOOD
        assert "as this site says" in tab.locator("#found").inner_text()
        assert set(requests) - {"favicon.ico"} == {name, "trust.json", "status/1"}


def test_the_code_on_paper_is_answered_as_soon_as_a_phone_opens_it(
    checking: Checking, tmp_path: Path
) -> None:
    made = token(TOKEN, KEY)
    with on_site(checking.playwright, tmp_path, (SITE, f"v/#{made}"), FILES) as (tab, requests):
        answers = told(tab)
        expect(tab.locator("#said")).to_be_in_viewport()

        assert answers == GOOD
        assert "Inês Carvalho Teles" in tab.locator("#found").inner_text()
        assert not any(made[:20] in one for one in requests)


def test_a_plain_web_server_leads_from_the_short_address_to_the_page_with_its_code(
    checking: Checking, tmp_path: Path
) -> None:
    (tmp_path / "v").mkdir()
    (tmp_path / "v" / "index.html").write_bytes(check_page.page())
    handler = functools.partial(Quiet, directory=str(tmp_path))
    with (
        ThreadingHTTPServer(("127.0.0.1", 0), handler) as server,
        browser(tmp_path / "profile", DESK, playwright=checking.playwright) as found,
    ):
        threading.Thread(target=server.serve_forever).start()
        tab = found.page()
        tab.goto(f"http://127.0.0.1:{server.server_port}/v#a.b.c")
        tab.evaluate("standfast.begun")
        code, address = tab.locator("#code").input_value(), tab.url
        server.shutdown()

    assert (code, address.endswith("/v/#a.b.c")) == ("a.b.c", True)


class Quiet(SimpleHTTPRequestHandler):
    """The plainest server of files, without its words."""

    def log_message(self, *_: object) -> None:
        pass


def test_a_file_that_belongs_to_the_code_is_told_from_another(tab: Page) -> None:
    document = signed(sample())
    digest = tab.evaluate(
        "text => standfast.digest(standfast.readJson(standfast.utf8(text)))", CERTIFICATE.decode()
    )
    believe(tab)
    give(tab, certificate_json=canonical(document))
    answers = []
    for one in (digest, "other"):
        code = token(dataclasses.replace(TOKEN, digest=one), KEY)
        tab.fill("#code", f"{SITE}v#{code}")
        tab.evaluate("standfast.show()")
        answers.append(tab.locator("article").last.inner_text())

    assert "the code was made for the file that was given" in answers[0]
    assert "the code was made for another file than was given" in answers[1]


def test_a_site_that_gives_another_schools_keys_is_not_believed(
    checking: Checking, tmp_path: Path
) -> None:
    other = trust.made("https://elsewhere.example/issuer", "Other", TRUSTED.keys, KEY, NOW)
    with on_site(
        checking.playwright, tmp_path, (SITE, "v/"), FILES | {"trust.json": other.content}
    ) as (tab, _):
        give(tab, certificate_json=CERTIFICATE)

        assert told(tab)["key"] == "not known"
        assert "which is elsewhere" in tab.locator("#given").inner_text()


@pytest.mark.parametrize(
    "gone", [{"trust.json": b"{}"}, {"status/1": b"{}"}, {"status/1": status_list(days=9)}]
)
def test_a_site_that_gives_nothing_good_leaves_not_known(
    checking: Checking, tmp_path: Path, gone: dict[str, bytes]
) -> None:
    with on_site(checking.playwright, tmp_path, (SITE, "v/"), FILES | gone) as (tab, _):
        give(tab, certificate_json=CERTIFICATE)

        assert "not known" in told(tab).values()
        assert told(tab)["revocation"] == "not known"


# For everybody


@pytest.mark.parametrize("size", [DESK, TALL_PHONE], ids=["desk", "phone"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_everybody_can_read_and_press_it(
    checking: Checking, tmp_path: Path, page_file: Path, size: Size, *, dark: bool
) -> None:
    with browser(tmp_path, size, touch=False, dark=dark, playwright=checking.playwright) as found:
        tab = found.page()
        tab.clock.set_fixed_time(NOW)
        tab.goto(page_file.as_uri())
        tab.evaluate("standfast.begun")
        states: list[Callable[[], object]] = [
            lambda: None,
            lambda: give(tab, certificate_json=canonical(over_bytes(sample(), STRANGER))),
            lambda: give(tab, trust_json=TRUST, changed_json=CERTIFICATE[:-2] + b"1}"),
            lambda: tab.get_by_role("button", name=SAME).click(),
            lambda: tab.fill("#code", token(TOKEN, KEY)),
        ]
        for reach in states:
            reach()
            tab.evaluate("standfast.show()")
            wide = tab.evaluate("document.documentElement.scrollWidth - innerWidth")

            assert violations(tab) == []
            assert small(tab) == []
            assert wide <= 0
        assert found.complaints == []


def test_it_is_used_by_keyboard_alone(tab: Page) -> None:
    give(tab, trust_json=TRUST)
    seen = []
    for _ in range(8):
        tab.keyboard.press("Tab")
        seen.append(tab.evaluate("document.activeElement.id || document.activeElement.textContent"))
        if seen[-1] == SAME:
            break
    tab.keyboard.press("Enter")

    assert seen == ["files", "code", "name", "clear", SAME]
    assert tab.evaluate("document.activeElement.id") == "said"
    assert "compared on" in tab.locator("#schools").inner_text()


def test_the_caution_stands_on_it_and_on_what_is_printed(tab: Page) -> None:
    give(tab, certificate_json=CERTIFICATE)
    on_screen = " ".join(tab.locator("aside").inner_text().split())
    tab.emulate_media(media="print")

    assert on_screen == CAUTION
    assert tab.locator("aside").is_visible()
    assert tab.locator("table").is_visible()
    assert not tab.locator("#drop").is_visible()


def test_without_script_it_says_that_nothing_can_be_said(page_file: Path) -> None:
    text = page_file.read_text("utf-8")
    before, _, _ = text.partition('<div id="room"')

    assert "Without it nothing can be said" in before
    assert 'id="room" hidden' in text
