"""What a school puts on its public web site, and what anybody makes of it."""

from __future__ import annotations

import json
import mimetypes
import shutil
from pathlib import Path
from typing import Any

import pytest
from freezegun import freeze_time
from playwright.sync_api import sync_playwright
from tests.cli.conftest import FILE, INES, ISSUER, MARIT, NAME, NUMBER, Run, credential, scanned
from tests.seal.conftest import on_site

from standfast.seal.proofs import DataLoss, statements

PUBLISHED = {
    *("issuer.json", "trust.json", "verify.html", "v/index.html"),
    *("status/revocation-1.json", "status/suspension-1.json"),
}
SECURITY = "https://w3id.org/security#"
LINK = {"@type": "@id", "@container": "@set"}
MEANT = {
    "https://www.w3.org/ns/cid/v1": {
        "id": "@id",
        "type": "@type",
        "Multikey": f"{SECURITY}Multikey",
        "verificationMethod": {"@id": f"{SECURITY}verificationMethod", **LINK},
        "assertionMethod": {"@id": f"{SECURITY}assertionMethod", **LINK},
        "controller": {"@id": f"{SECURITY}controller", "@type": "@id"},
        "publicKeyMultibase": f"{SECURITY}publicKeyMultibase",
        "revoked": f"{SECURITY}revoked",
    },
    "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json": {
        "Profile": "https://purl.imsglobal.org/spec/vc/ob/vocab.html#Profile",
        "name": "https://schema.org/name",
    },
}
"""Terms of W3C Controlled Identifiers 1.0 and Open Badges 3.0; from memory."""


def published(folder: Path = Path("site")) -> dict[str, bytes]:
    """What lies there, by its name under the school's address."""
    files = [one for one in folder.rglob("*") if one.is_file()]
    return {one.relative_to(folder).as_posix(): one.read_bytes() for one in files}


@pytest.fixture
def with_a_site(keyed: Path, typed: Run) -> Path:
    """The school under an address that says what kind of file lies there."""
    shutil.rmtree(keyed / "keys")
    assert typed("keys", "make", "--issuer", f"{ISSUER}.json").code == 0
    return keyed


@pytest.mark.usefixtures("with_a_site")
def test_what_is_published_needs_no_setting_of_the_web_server(typed: Run) -> None:
    ran = typed("publish", "--out", "site")

    assert ran.code == 0
    assert "every month" in ran.out
    assert "application/json" not in ran.out
    assert published().keys() == PUBLISHED
    for name in PUBLISHED:
        kind, _ = mimetypes.guess_type(name)
        assert kind == ("text/html" if name.endswith(".html") else "application/json"), name


@pytest.mark.usefixtures("keyed")
def test_of_an_address_without_an_ending_it_is_said_what_the_web_server_must_say(
    typed: Run,
) -> None:
    ran = typed("publish", "--out", "site")

    assert published().keys() == PUBLISHED - {"issuer.json"} | {"issuer"}
    assert "let the web server say application/json" in " ".join(ran.out.split())
    assert typed("publish", "--out", "site", "--json").json["without_ending"] == "issuer"


@pytest.mark.usefixtures("with_a_site")
def test_the_lists_lie_where_the_certificates_say(typed: Run) -> None:
    typed("publish", "--out", "site")
    typed("sign", NUMBER, "--out", "out")
    status = credential()["credentialStatus"]
    base = credential()["issuer"]["id"].removesuffix("issuer.json")
    files = published()

    for purpose in ("revocation", "suspension"):
        address = status["statusListCredential"].replace("revocation", purpose)
        assert json.loads(files[address.removeprefix(base)])["id"] == address
    assert json.loads(files["issuer.json"])["id"] == f"{base}issuer.json"
    assert files["trust.json"] == Path("keys/trust.json").read_bytes()
    assert files["v/index.html"] == files["verify.html"]


def of_site() -> dict[str, Any]:
    told: dict[str, Any] = json.loads(published()["issuer.json"])
    return told


@pytest.mark.usefixtures("with_a_site")
def test_every_word_about_the_school_has_a_meaning(typed: Run) -> None:
    typed("keys", "lost", "--stolen")
    typed("publish", "--out", "site")
    told, meant = of_site(), {name: {"@context": one} for name, one in MEANT.items()}

    assert list(meant) == told["@context"]
    assert f"<{SECURITY}revoked>" in statements(told, meant).decode()
    with pytest.raises(DataLoss):
        statements(told | {"more": "x"}, meant)


@pytest.mark.usefixtures("with_a_site")
def test_keys_that_signed_stay_listed_and_only_those_that_may_are_said_to(
    typed: Run, standfast: Run
) -> None:
    assert typed("keys", "rotate").code == 0
    assert typed("keys", "lost", "--stolen").code == 0
    typed("sign", NUMBER, "--out", "out")
    typed("publish", "--out", "site")
    told = of_site()
    stands = {one["key"]: one["stands"] for one in standfast("keys", "show", "--json").json["keys"]}
    listed = {one["publicKeyMultibase"]: one for one in told["verificationMethod"]}
    may = [one.partition("#")[2] for one in told["assertionMethod"]]

    assert listed.keys() == stands.keys()
    assert sorted(stands.values()) == ["retired", "revoked", "signs", "standby"]
    assert {stands[one] for one in may} == {"signs", "retired"}
    assert {stands[one] for one in listed if "revoked" in listed[one]} == {"revoked"}
    assert not any("expires" in one for one in listed.values())
    assert {one["controller"] for one in listed.values()} == {told["id"]}
    assert credential()["proof"][0]["verificationMethod"] in told["assertionMethod"]


@pytest.mark.usefixtures("with_a_site")
def test_publishing_again_takes_the_place_of_what_is_there_and_of_nothing_else(
    typed: Run,
) -> None:
    typed("publish", "--out", "site")
    before = published()
    Path("site/index.html").write_text("the school's own", "utf-8")
    refused = typed("publish", "--out", "site", words="some other words")
    unchanged = published()
    with freeze_time("2026-12-20 10:00:00", ignore=["pydantic"]):
        typed("publish", "--out", "site")
    after = published()

    assert refused.code == 2
    assert unchanged == before | {"index.html": b"the school's own"}
    assert after.keys() == unchanged.keys()
    assert {name for name in before if before[name] != after[name]} == {
        "status/revocation-1.json",
        "status/suspension-1.json",
    }


@pytest.mark.usefixtures("with_a_site")
def test_what_is_published_names_nobody(typed: Run) -> None:
    typed("sign", NUMBER, "--out", "out")
    typed("publish", "--out", "site")
    whole = b"".join(published().values()).decode()

    assert not any(one in whole for one in (NUMBER, NAME, INES, MARIT, "Solheim"))


@pytest.mark.usefixtures("today")
def test_a_school_without_a_site_hands_on_files(scored: Path, typed: Run) -> None:
    assert typed("keys", "make").code == 0
    ran = typed("publish", "--out", "site")

    assert published().keys() == PUBLISHED - {"issuer.json", "v/index.html"}
    assert "verify.html opens from a disk" in " ".join(ran.out.split())


@pytest.mark.usefixtures("today")
@pytest.mark.parametrize(
    "issuer",
    [
        *("https://sandhof.example", "https://sandhof.example/", "https://sandhof.example/a/"),
        *("https://sandhof.example/issuer?a", "https://sandhof.example/issuer#a"),
        *("https://sandhof.example/../a", "https://sandhof.example/.a", "https://a b/c"),
        *("https://sandhof.example/trust.json", "https://sandhof.example/v"),
    ],
)
def test_an_address_beside_which_nothing_could_lie_is_refused(
    scored: Path, typed: Run, issuer: str
) -> None:
    refused = typed("keys", "make", "--issuer", issuer)

    assert refused.code == 2
    assert "/issuer.json" in refused.err
    assert not (scored / "keys").exists()


@pytest.mark.xdist_group("chromium")
@pytest.mark.usefixtures("with_a_site")
def test_anybody_checks_a_certificate_on_the_site_that_was_published(
    typed: Run, standfast: Run, tmp_path: Path
) -> None:
    typed("sign", NUMBER, "--out", "out")
    said = []
    for ruling in (None, "suspend", "withdraw"):
        if ruling is not None:
            because = ("--because", "as the holder asked")
            assert standfast(ruling, NUMBER, "--certifier", MARIT, *because).code == 0
        assert typed("publish", "--out", "site").code == 0
        site = (ISSUER.removesuffix("issuer"), "v/")
        profile = tmp_path / f"profile-{ruling}"
        with sync_playwright() as started, on_site(started, profile, site, published()) as (tab, _):
            tab.clock.set_fixed_time("2026-11-24T10:00:00Z")
            tab.set_input_files("#files", FILE)
            tab.locator("article").wait_for()
            tab.fill("#name", NAME)
            tab.evaluate("standfast.show()")
            said.append([one.split()[1] for one in tab.locator(".answer").all_inner_texts()])

    questions = ["shape", "signature", "key", "dates", "revocation", "suspension", "holder"]
    assert said[0] == ["yes"] * len(questions)
    assert [one for one, two in zip(questions, said[1], strict=True) if two != "yes"] == [
        "suspension"
    ]
    assert [one for one, two in zip(questions, said[2], strict=True) if two != "yes"] == [
        "revocation"
    ]


@pytest.mark.xdist_group("chromium")
@pytest.mark.usefixtures("with_a_site")
def test_a_phone_that_scans_the_paper_has_its_answers_and_the_paper_tells_the_rest(
    typed: Run, tmp_path: Path
) -> None:
    typed("sign", NUMBER, "--out", "out")
    assert typed("publish", "--out", "site").code == 0
    paper = FILE.with_suffix(".pdf")
    site = ISSUER.removesuffix("issuer")
    address = scanned(paper).removeprefix(f"{site}v")
    opened = (site, f"v/{address}")
    with sync_playwright() as started, on_site(started, tmp_path, opened, published()) as (tab, _):
        tab.clock.set_fixed_time("2026-11-24T10:00:00Z")
        tab.evaluate("standfast.show()")
        of_code = tab.locator(".answer").all_inner_texts()
        words = tab.locator("article").inner_text()
        tab.set_input_files("#files", paper)
        tab.locator("article").nth(1).wait_for()
        of_paper, of_both = (one.inner_text() for one in tab.locator("article").all())

    assert [one.split()[1] for one in of_code] == ["yes"] * 6
    assert NAME in words
    assert "Of 8 questions: 8 yes." in of_paper
    assert "stood in the record book" in of_paper
    assert "byte by byte the page that the school made for it" in of_paper
    assert "the code was made for the file that was given" in of_both
