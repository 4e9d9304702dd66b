"""Keys, signed certificates, lists of what was taken back, and checking: at the command line."""

from __future__ import annotations

import json
import shutil
import stat
import subprocess
import sys
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from freezegun import freeze_time
from tests.cli.conftest import (
    FILE,
    INES,
    MARIT,
    NAME,
    NUMBER,
    ON,
    PASSPHRASE,
    RUBRIC,
    Ran,
    Run,
    credential,
    scanned,
)
from tests.schools import bytes_of_book

from standfast.desk.heads import check
from standfast.desk.opening import where_the_book_is
from standfast.seal.receipts import Extension, Head, extended, read
from standfast.seal.trust import read as trust_file
from standfast.store.connect import open_book

PAPER = FILE.with_suffix(".pdf")
LISTS = (
    *("--list", "out/status/revocation-1.json"),
    *("--list", "out/status/suspension-1.json"),
)


def fingerprint(standfast: Run, stands: str = "signs") -> str:
    keys = standfast("keys", "show", "--json").json["keys"]
    return str(next(one["fingerprint"] for one in keys if one["stands"] == stands))


def believed(standfast: Run) -> Ran:
    return standfast("trust", "keys/trust.json", "--fingerprint", fingerprint(standfast))


def only(ran: Ran) -> dict[str, Any]:
    """The one certificate that was signed."""
    (one,) = ran.json["certificates"]
    return dict(one)


def found(ran: Ran) -> dict[str, str]:
    return {one["question"]: one["answer"] for one in ran.json["findings"]}


# Keys


def test_keys_lie_beside_the_book_and_nobody_else_reads_them(keyed: Path) -> None:
    secret = list((keyed / "keys").glob("*.pem"))

    assert len(secret) == 2
    assert [stat.S_IMODE(one.stat().st_mode) for one in secret] == [0o600, 0o600]
    assert stat.S_IMODE((keyed / "keys").stat().st_mode) == 0o700
    for file in secret:
        told = subprocess.run(
            ["openssl", "pkey", "-in", str(file), "-passin", f"pass:{PASSPHRASE}", "-noout"],
            capture_output=True,
            check=False,
        )
        assert told.returncode == 0, told.stderr


def test_no_secret_is_in_the_record_book(keyed: Path, typed: Run) -> None:
    typed("sign", NUMBER, "--out", "out")
    secret = typed("keys", "paper").out.splitlines()[0].replace(" ", "")
    book = bytes_of_book(keyed)

    assert secret.startswith("z3u2")
    assert secret.encode() not in book
    assert PASSPHRASE.encode() not in book


def test_a_wrong_passphrase_is_one_clear_line(keyed: Path, typed: Run) -> None:
    del keyed
    for command in (("sign", NUMBER, "--out", "out"), ("keys", "rotate"), ("keys", "paper")):
        refused = typed(*command, words="some other words")

        assert refused.code == 2
        assert refused.err.splitlines() == [
            "this passphrase does not open the key; mind capital letters"
        ]
    assert not FILE.exists()


@pytest.mark.usefixtures("keyed")
def test_keys_are_made_once(typed: Run) -> None:
    refused = typed("keys", "make")

    assert (refused.code, "has keys already" in refused.err) == (1, True)


@pytest.mark.usefixtures("today")
@pytest.mark.parametrize(
    ("more", "words", "says"),
    [
        (("--issuer", "http://sandhof.example"), PASSPHRASE, "write https://"),
        (("--issuer", "sandhof"), PASSPHRASE, "write https://"),
        ((), "short", "12 characters or more"),
    ],
)
def test_keys_that_would_not_do_are_not_made(
    scored: Path, typed: Run, more: tuple[str, ...], words: str, says: str
) -> None:
    refused = typed("keys", "make", *more, words=words)

    assert refused.code in {1, 2}
    assert says in refused.err
    assert not list(scored.glob("keys/*"))


def test_a_key_comes_back_from_paper(keyed: Path, standfast: Run, typed: Run) -> None:
    paper = typed("keys", "paper", "--standby").out.splitlines()[0]
    (file,) = (
        keyed / "keys" / f"{one['key'][-12:]}.pem"
        for one in standfast("keys", "show", "--json").json["keys"]
        if one["standby"]
    )
    file.unlink()
    assert typed("keys", "lost").code == 2  # the standby is not here
    wrong = typed("keys", "bring", words=f"{paper[:-1]}x\nanother passphrase")
    stranger = typed(
        "keys", "bring", words=f"z3u2en7t5LR2WtQH5PfFqMqwVHBeXouLzo6haApm8XHqvjxq\n{PASSPHRASE}"
    )
    back = typed("keys", "bring", words=f"{paper}\n{PASSPHRASE}")

    assert (wrong.code, stranger.code, back.code) == (1, 1, 0)
    assert "none of this school's" in stranger.err
    assert typed("keys", "lost").code == 0


# Signing, and checking


def test_a_signed_certificate_is_checked_by_whoever_believes_the_school(
    keyed: Path, standfast: Run, typed: Run
) -> None:
    signed = typed("sign", NUMBER, "--out", "out")
    unknown = standfast("verify", FILE, "--json")
    assert believed(standfast).code == 0
    without = standfast("verify", FILE, "--json")
    typed("publish", "--out", "out")
    whole = standfast("verify", FILE, *LISTS, "--name", NAME, "--school", ".", "--json")

    assert signed.code == 0
    assert "next: standfast head --out out, for somebody outside to keep\n" in signed.out
    assert (unknown.code, found(unknown)["key"]) == (1, "not known")
    assert (without.code, found(without)["revocation"]) == (1, "not known")
    assert whole.code == 0
    asked = ("shape", "signature", "key", "dates", "revocation", "suspension", "holder", "book")
    assert found(whole) == dict.fromkeys((*asked, "standing"), "yes")
    assert "stays on the ground" in whole.json["caution"]
    with open_book(where_the_book_is(keyed)) as book:
        (kept,) = book.issued()
    assert not kept.named


@pytest.mark.usefixtures("keyed")
def test_what_is_not_known_for_want_of_a_file_is_said_with_where_to_get_it(
    standfast: Run, typed: Run
) -> None:
    ask, lists = "'standfast trust trust.json --fingerprint FINGERPRINT'", "with --list"
    typed("sign", NUMBER, "--out", "out")
    unknown = standfast("verify", FILE).flat
    believed(standfast)
    without = standfast("verify", FILE).flat
    typed("publish", "--out", "out")
    whole = standfast("verify", FILE, *LISTS).flat

    assert [(ask in one, lists in one) for one in (unknown, without, whole)] == [
        (True, True),
        (False, True),
        (False, False),
    ]


@pytest.mark.usefixtures("today")
def test_a_school_without_a_site_is_known_by_its_key(
    scored: Path, standfast: Run, typed: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STANDFAST_TRUST", str(tmp_path / "trust"))
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)
    assert typed("keys", "make").code == 0
    typed("sign", NUMBER, "--out", "out")
    typed("publish", "--out", "out")
    assert believed(standfast).code == 0
    told = standfast("verify", FILE, *LISTS, "--school", scored, "--json")

    assert told.code == 0, told.out
    assert credential()["issuer"]["id"].startswith("did:key:z6Mk")


@pytest.mark.usefixtures("keyed")
def test_what_it_says_is_what_was_awarded(typed: Run, standfast: Run) -> None:
    typed("sign", NUMBER, "--out", "out")
    told = credential()
    subject = told["credentialSubject"]
    standing = standfast("standing", INES, "--on", "2026-11-24", "--json").json
    ends = json.dumps(standing)

    assert subject["licenseNumber"] == NUMBER
    assert told["validFrom"] == "2026-11-20T00:00:00+01:00"
    assert told["validUntil"].endswith("T23:59:59+02:00")
    assert told["validUntil"][:10] in ends
    assert NAME not in FILE.read_text("utf-8")
    results = {one["resultDescription"].partition("#")[2]: one for one in subject["result"]}
    assert results["decision"]["status"] == "Completed"
    assert results["five-looks"]["achievedLevel"].endswith(("#five-looks-3", "#five-looks-4"))
    assert 60 <= int(results["competency-look-over"]["value"]) <= 100
    assert "qualified rigger" in told["description"]
    assert "stays on the ground" in told["description"]


def covered(description: str) -> set[str]:
    """Titles of skills, as the description lists them."""
    return set(description.removeprefix("Covers: ").partition(". ")[0].split("; "))


@pytest.mark.usefixtures("keyed")
def test_a_reduced_scope_is_signed_as_reduced(typed: Run, standfast: Run) -> None:
    typed("sign", NUMBER, "--out", "out")
    whole = credential()["description"]
    reduced = ("reduce", NUMBER, "--without", "knee-hang-rise", "--certifier", MARIT)
    assert standfast(*reduced, "--because", "a spot needs both arms").code == 0
    typed("sign", NUMBER, "--out", "out")
    left = credential()["description"]

    assert len(covered(whole) - covered(left)) == 1
    assert covered(left) < covered(whole)
    assert "stays on the ground" in left


@pytest.mark.usefixtures("keyed")
def test_her_name_stands_in_it_only_when_she_agreed(typed: Run, standfast: Run) -> None:
    typed("sign", NUMBER, "--out", "out", "--named")

    assert credential()["credentialSubject"]["identifier"][0]["identityHash"] == NAME
    assert found(standfast("verify", FILE, "--name", NAME, "--json"))["holder"] == "yes"
    assert found(standfast("verify", FILE, "--name", "Ines", "--json"))["holder"] == "no"


@pytest.mark.usefixtures("keyed")
@pytest.mark.parametrize("words", [(), ("--named",)])
def test_her_name_is_hers_however_it_was_typed(
    typed: Run, standfast: Run, words: tuple[str, ...]
) -> None:
    believed(standfast)
    typed("sign", NUMBER, "--out", "out", *words)
    code = scanned(PAPER)
    same = (f" {NAME}", f"{NAME}\t", NAME.replace(" ", "  "), unicodedata.normalize("NFD", NAME))
    others = (NAME.replace("ê", "e"), NAME.lower(), NAME.replace(" ", ""))

    def holders(name: str) -> set[str]:
        asked = (standfast("verify", one, "--name", name, "--json") for one in (FILE, code))
        return {found(one)["holder"] for one in asked}

    assert [holders(name) for name in same] == [{"yes"}] * len(same)
    assert [holders(name) for name in others] == [{"no"}] * len(others)


@pytest.mark.usefixtures("keyed")
def test_what_was_ruled_later_is_found_by_the_list_and_by_nothing_else(
    typed: Run, standfast: Run
) -> None:
    typed("sign", NUMBER, "--out", "out")
    believed(standfast)
    for command, question in (("suspend", "suspension"), ("withdraw", "revocation")):
        ruled = (command, NUMBER, "--certifier", MARIT, "--because", "as the holder asked")
        assert standfast(*ruled).code == 0
        typed("publish", "--out", "out")
        told = standfast("verify", FILE, *LISTS, "--json")
        other = {"suspension": "revocation", "revocation": "suspension"}[question]

        assert (told.code, found(told)[question]) == (1, "no")
        assert found(told)[other] == "yes"
        assert found(told)["signature"] == "yes"
    refused = typed("sign", NUMBER, "--out", "out")
    assert (refused.code, "withdrawn" in refused.err) == (1, True)


@pytest.mark.usefixtures("keyed")
@pytest.mark.parametrize(
    ("command", "says"),
    [
        (("withdraw", NUMBER), "taken back since, by the record book: withdrawn on 2026-11-24"),
        (("suspend", NUMBER), "does not count now, by the record book: suspended on 2026-11-24"),
        (
            ("reduce", NUMBER, "--without", "knee-hang-rise"),
            "taken back since, by the record book: it is now without rise from the hang",
        ),
    ],
)
def test_what_was_ruled_after_the_last_list_is_known_where_the_book_is_at_hand(
    typed: Run, standfast: Run, command: tuple[str, ...], says: str
) -> None:
    believing(standfast, typed)
    ruled = (*command, "--certifier", MARIT, "--because", "as the holder asked")
    assert standfast(*ruled).code == 0

    for one in (PAPER, FILE, scanned(PAPER)):
        alone = standfast("verify", one, *LISTS, "--json")
        told = standfast("verify", one, *LISTS, "--school", ".", "--json")
        (standing,) = (a for a in told.json["findings"] if a["question"] == "standing")

        assert alone.json["findings"]
        assert "standing" not in found(alone)
        assert (told.code, told.json["holds"]) == (1, False)
        assert (standing["answer"], standing["says"].startswith(says)) == ("no", True)
    assert f"x standing: {says}"[:60] in standfast("verify", FILE, *LISTS, "--school", ".").flat


@pytest.mark.usefixtures("keyed")
def test_a_list_says_nothing_once_its_days_are_over(typed: Run, standfast: Run) -> None:
    typed("sign", NUMBER, "--out", "out")
    believed(standfast)
    typed("publish", "--out", "out")
    with freeze_time("2026-12-26 10:00:00", ignore=["pydantic"]):
        told = standfast("verify", FILE, *LISTS, "--json")

    assert told.code == 1
    assert found(told)["revocation"] == found(told)["suspension"] == "not known"


@pytest.mark.usefixtures("keyed")
@pytest.mark.parametrize("missing", ["revocation", "suspension"])
def test_without_one_of_the_two_lists_what_it_would_say_is_not_known(
    typed: Run, standfast: Run, missing: str
) -> None:
    believing(standfast, typed)
    at = {"revocation": LISTS[2:], "suspension": LISTS[:2]}[missing]
    told = standfast("verify", FILE, *at, "--json")
    other = ({"revocation", "suspension"} - {missing}).pop()

    assert told.code == 1
    assert (found(told)[missing], found(told)[other]) == ("not known", "yes")


@pytest.mark.usefixtures("keyed")
def test_each_certificate_has_a_place_of_its_own(typed: Run) -> None:
    given = [only(typed("sign", NUMBER, "--out", "out", "--json")) for _ in range(3)]

    assert len({one["issued"]["place"] for one in given}) == 3


def lessened(standfast: Run) -> Ran:
    """A skill is taken from the award."""
    reduced = ("reduce", NUMBER, "--without", "knee-hang-rise", "--certifier", MARIT)
    return standfast(*reduced, "--because", "a spot needs both arms")


def shortened(standfast: Run) -> Ran:
    """A document without which the award does not count ends before the award does."""
    file = Path("candidates/people.yaml")
    told = file.read_text("utf-8")
    papers = "last_day: 2027-08-31, reference: IN-INV-0201"
    assert told.count(papers) == 1
    file.write_text(told.replace(papers, papers.replace("2027-08-31", "2027-03-01")), "utf-8")
    return standfast("people")


@pytest.mark.usefixtures("keyed")
@pytest.mark.parametrize("happens", [lessened, shortened])
def test_one_that_says_more_than_holds_since_is_taken_back_and_the_next_is_good(
    typed: Run, standfast: Run, happens: Callable[[Run], Ran]
) -> None:
    believed(standfast)
    typed("sign", NUMBER, "--out", "out")
    earlier = FILE.rename("out/earlier.json")
    assert happens(standfast).code == 0
    typed("sign", NUMBER, "--out", "out")
    typed("publish", "--out", "out")

    assert found(standfast("verify", earlier, *LISTS, "--json"))["revocation"] == "no"
    assert found(standfast("verify", FILE, *LISTS, "--json"))["revocation"] == "yes"


@pytest.mark.usefixtures("keyed")
def test_all_at_once_are_those_that_have_none(typed: Run, standfast: Run) -> None:
    every = ("sign", "--all", "--out", "out")
    first, again = typed(*every, "--json"), typed(*every, "--json")

    assert [one["paper"] for one in first.json["certificates"]] == [str(PAPER)]
    assert (again.code, again.json["certificates"]) == (0, [])
    assert "next:" not in typed(*every).out

    lessened(standfast)
    assert len(typed(*every, "--json").json["certificates"]) == 1

    typed("keys", "lost", "--stolen")
    anew = typed(*every, "--json").json["certificates"]
    believed(standfast)
    assert len(anew) == 1
    assert found(standfast("verify", FILE, "--json"))["key"] == "yes"


@pytest.mark.usefixtures("keyed")
@pytest.mark.parametrize(
    "asked",
    [("--out", "out"), (NUMBER, "--all", "--out", "out"), ("--all", "--named", "--out", ".")],
)
def test_one_or_all(typed: Run, asked: tuple[str, ...]) -> None:
    assert typed("sign", *asked).code == 2


@pytest.mark.usefixtures("keyed")
def test_nothing_is_signed_when_the_paper_cannot_be_drawn(typed: Run, standfast: Run) -> None:
    before = standfast("history", INES, "--json").json
    Path("templates").mkdir(exist_ok=True)
    Path("templates/certificate.html").write_text("<p>{{ nothing_of_that_name }}</p>", "utf-8")
    told = typed("sign", NUMBER, "--out", "out")

    assert (told.code, "nothing_of_that_name" in told.err) == (2, True)
    assert standfast("history", INES, "--json").json == before
    assert not list(Path("out").iterdir())


# On paper


def believing(standfast: Run, typed: Run) -> None:
    believed(standfast)
    typed("sign", NUMBER, "--out", "out")
    typed("publish", "--out", "out")


@pytest.mark.usefixtures("keyed")
def test_the_paper_carries_its_certificate_and_both_are_found_good(
    typed: Run, standfast: Run
) -> None:
    believing(standfast, typed)
    told = standfast("verify", PAPER, *LISTS, "--name", NAME, "--json")

    assert (told.code, told.json["holds"], told.json["number"]) == (0, True, NUMBER)
    assert found(told)["paper"] == found(told)["book"] == "yes"
    assert "knee" in told.json["says"]
    with pikepdf.open(PAPER) as pdf:
        assert pdf.attachments["credential.json"].get_file().read_bytes() == FILE.read_bytes()


@pytest.mark.usefixtures("keyed")
def test_the_code_on_the_paper_is_checked_alone_and_with_the_file(
    typed: Run, standfast: Run
) -> None:
    believing(standfast, typed)
    code = scanned(PAPER)
    alone = standfast("verify", code, *LISTS, "--name", NAME, "--school", ".", "--json")
    address, _, token = code.partition("#")

    assert address == "https://sandhof.example/v"
    assert (alone.code, alone.json["number"]) == (0, NUMBER)
    assert found(alone)["book"] == found(alone)["suspension"] == "yes"
    assert NAME in alone.json["says"]
    assert "stays on the ground" in alone.json["caution"]
    assert found(standfast("verify", token, *LISTS, "--json"))["signature"] == "yes"
    assert found(standfast("verify", FILE, "--code", code, "--json"))["paper"] == "yes"

    typed("sign", NUMBER, "--out", "out")
    assert found(standfast("verify", FILE, "--code", code, "--json"))["paper"] == "no"


@pytest.mark.usefixtures("keyed")
def test_a_code_tells_nothing_without_the_schools_keys_and_not_when_it_is_changed(
    typed: Run, standfast: Run
) -> None:
    typed("sign", NUMBER, "--out", "out")
    code = scanned(PAPER)
    unknown = standfast("verify", code, "--json")
    believed(standfast)
    changed = code[:-2] + ("AA" if code[-2:] != "AA" else "BA")

    assert (unknown.code, found(unknown)["signature"]) == (1, "not known")
    assert found(standfast("verify", code, "--json"))["revocation"] == "not known"
    assert found(standfast("verify", changed, "--json"))["signature"] == "no"
    assert standfast("verify", "no-such-file.json").code == 2
    assert standfast("verify", code, "--code", code).code == 2


@pytest.mark.usefixtures("keyed")
def test_the_code_of_one_that_was_taken_back(typed: Run, standfast: Run) -> None:
    believing(standfast, typed)
    ruled = ("withdraw", NUMBER, "--certifier", MARIT, "--because", "as the holder asked")
    assert standfast(*ruled).code == 0
    typed("publish", "--out", "out")

    assert found(standfast("verify", scanned(PAPER), *LISTS, "--json"))["revocation"] == "no"


def another_name(text: str) -> str:
    return text.replace(">{{ name }}<", ">Somebody Else<")


def another_day(text: str) -> str:
    return text.replace("{{ last_day }}", "31 December 2099")


def another_number(text: str) -> str:
    return text.replace("{{ number }}", "LT1-2026-9999")


def another_scope(text: str) -> str:
    return text.replace("{{ scope }}", "May teach everything")


@pytest.mark.usefixtures("keyed")
@pytest.mark.parametrize("change", [another_name, another_day, another_number, another_scope])
def test_a_page_that_says_something_else_than_what_is_signed(
    typed: Run, standfast: Run, change: Callable[[str], str]
) -> None:
    shipped = (Path(__file__).parents[2] / "templates" / "certificate.html").read_text("utf-8")
    Path("templates").mkdir(exist_ok=True)
    Path("templates/certificate.html").write_text(change(shipped), "utf-8")
    believing(standfast, typed)
    told = standfast("verify", PAPER, *LISTS, "--json")

    assert change(shipped) != shipped
    assert (told.code, found(told)["paper"], found(told)["signature"]) == (1, "no", "yes")


@pytest.mark.usefixtures("keyed")
def test_a_page_around_another_certificate(typed: Run, standfast: Run) -> None:
    believing(standfast, typed)
    with pikepdf.open(PAPER, allow_overwriting_input=True) as pdf:
        changed = json.loads(FILE.read_bytes())
        changed["credentialSubject"]["licenseNumber"] = "LT1-2026-9999"
        inside = pdf.attachments["credential.json"].obj.EF.F
        inside.write(json.dumps(changed).encode())
        pdf.save(PAPER)

    assert found(standfast("verify", PAPER, *LISTS, "--json"))["signature"] == "no"


@pytest.mark.usefixtures("keyed")
def test_a_pdf_without_a_certificate_and_what_is_no_pdf(typed: Run, standfast: Run) -> None:
    believing(standfast, typed)
    standfast("print", "certificate", NUMBER, "--out", "plain")
    plain = standfast("verify", "plain/certificate-LT1-2026-0001.pdf")
    whole = PAPER.read_bytes()
    PAPER.write_bytes(whole[: len(whole) // 2])
    half = standfast("verify", PAPER)

    assert (plain.code, "no signed certificate" in plain.err) == (2, True)
    assert (half.code, "ask for" in half.err) == (2, True)


def test_a_strangers_pdf_makes_its_reader_write_nothing_to_the_terminal(tmp_path: Path) -> None:
    """In a process of its own, since pytest hears what is logged before the terminal does."""
    pdf = pikepdf.new()
    page = pdf.add_blank_page()
    font = pikepdf.Dictionary(
        Type=pikepdf.Name.Font,
        Subtype=pikepdf.Name.Type1,
        BaseFont=pikepdf.Name.Helvetica,
        Encoding=pikepdf.Name("/x\x1b[2J + signature: unchanged"),
    )
    page.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F1=font))
    page.Contents = pdf.make_stream(b"BT /F1 12 Tf 10 10 Td (hi) Tj ET")
    pdf.save(tmp_path / "odd.pdf")

    ran = subprocess.run(
        [sys.executable, "-m", "standfast", "verify", tmp_path / "odd.pdf"],
        capture_output=True,
        check=False,
    )

    assert ran.returncode == 2
    assert ran.stderr.splitlines() == [
        f"{tmp_path / 'odd.pdf'}: carries no signed certificate;"
        " ask for one that 'standfast sign' made".encode()
    ]


@pytest.mark.usefixtures("keyed")
def test_erasing_the_holder_takes_the_salt_and_no_certificate_is_signed_any_more(
    typed: Run, standfast: Run
) -> None:
    typed("sign", NUMBER, "--out", "out")
    assert standfast("book", "forget", INES, "--yes").code == 0
    refused = typed("sign", NUMBER, "--out", "out")

    assert (refused.code, "erased" in refused.err) == (1, True)
    assert standfast("book", "audit").code == 0
    assert found(standfast("verify", FILE, "--school", ".", "--json"))["book"] == "yes"


# In the record book


def signed_entry(typed: Run) -> str:
    return str(only(typed("sign", NUMBER, "--out", "out", "--json"))["entry"])


@pytest.mark.usefixtures("keyed")
def test_a_receipt_shows_that_a_certificate_stands_in_the_book_and_no_other_entry(
    typed: Run, standfast: Run
) -> None:
    shown = typed("prove", signed_entry(typed), "--out", "out", "--json").json["file"]
    believed(standfast)
    told = standfast("verify", FILE, "--receipt", shown, "--json")

    assert found(told)["book"] == "yes"
    text = Path(shown).read_text("utf-8")
    assert NAME not in text
    assert INES not in text
    assert text.count("credential-issued") == 1
    assert "sheet-taken" not in text


@pytest.mark.usefixtures("keyed")
@pytest.mark.parametrize(
    "change",
    [
        lambda told: told["path"].pop(),
        lambda told: told["path"].reverse(),
        lambda told: told.update(index=told["index"] - 1),
        lambda told: told.update(entry=told["entry"].replace('"place":', '"place":1')),
        lambda told: told["head"].update(size=told["head"]["size"] + 1),
        lambda told: told["head"].update(root="0" * 64),
        lambda told: told["head"].update(at="2020-01-01T00:00:00Z"),
        lambda told: told["head"].update(issuer="https://elsewhere.example/issuer"),
    ],
)
def test_a_changed_receipt_shows_nothing(
    typed: Run, standfast: Run, change: Callable[[dict[str, Any]], object]
) -> None:
    file = Path(typed("prove", signed_entry(typed), "--out", "out", "--json").json["file"])
    believed(standfast)
    told = json.loads(file.read_text("utf-8"))
    change(told)
    file.write_text(json.dumps(told), "utf-8")

    assert found(standfast("verify", FILE, "--receipt", file, "--json"))["book"] == "no"


@pytest.mark.usefixtures("keyed")
def test_a_receipt_of_another_certificate_shows_nothing(typed: Run, standfast: Run) -> None:
    shown = typed("prove", signed_entry(typed), "--out", "out", "--json").json["file"]
    signed_entry(typed)  # another file lies there now
    believed(standfast)

    assert found(standfast("verify", FILE, "--receipt", shown, "--json"))["book"] == "no"


@pytest.mark.usefixtures("keyed")
def test_whoever_kept_a_head_sees_that_the_book_only_grew(typed: Run) -> None:
    kept = typed("head", "--out", "out", "--json").json["file"]
    signed_entry(typed)
    grown = typed("prove", "--since", kept, "--out", "out", "--json")
    found_there = read(Path(grown.json["file"]).read_bytes(), Extension)

    assert grown.code == 0
    assert found_there.second.size == found_there.first.size + 1
    assert extended(found_there)
    longer = found_there.model_copy(update={"path": (*found_there.path, "0" * 64)})
    assert not extended(longer)


@pytest.mark.usefixtures("keyed")
def test_a_head_is_a_file_and_the_same_on_a_page(typed: Run, standfast: Run) -> None:
    made = typed("head", "--out", "out", "--json").json
    told = json.loads(Path(made["file"]).read_text("utf-8"))
    page = subprocess.run(["pdftotext", made["paper"], "-"], capture_output=True, check=True)
    words = " ".join(page.stdout.decode().split())

    assert Path(made["paper"]).name == f"head-2026-11-24-{told['size']}.pdf"
    assert f"{told['size']} entries" in words
    assert " ".join(told["root"][at : at + 4] for at in range(0, 16, 4)) in words
    assert fingerprint(standfast) in words
    assert f"standfast prove --since head-2026-11-24-{told['size']}.json" in words
    assert "stays on the ground" in made["caution"]


@pytest.mark.usefixtures("keyed")
def test_a_second_head_on_one_day_leaves_the_first_as_it_was(typed: Run) -> None:
    first = Path(typed("head", "--out", "out", "--json").json["file"])
    before = first.read_bytes()
    signed_entry(typed)
    second = Path(typed("head", "--out", "out", "--json").json["file"])

    assert first.read_bytes() == before
    assert read(second.read_bytes(), Head).size == read(before, Head).size + 1


@pytest.mark.usefixtures("keyed")
def test_whoever_kept_a_head_checks_a_growth_file_and_a_receipt_without_the_school(
    typed: Run,
) -> None:
    trusted = [trust_file(Path("keys/trust.json").read_bytes()).file]
    kept = Path(typed("head", "--out", "out", "--json").json["file"])
    receipt = typed("prove", signed_entry(typed), "--out", "out", "--json").json["file"]
    grown = typed("prove", "--since", kept, "--out", "out", "--json").json["file"]

    for file, asked in ((kept, 4), (Path(grown), 5)):
        found_there = check(file.read_bytes(), trusted, kept.read_bytes())
        assert [one.answer for one in found_there] == ["yes"] * asked, found_there
    (*_, book) = check(Path(receipt).read_bytes(), trusted)
    assert (book.answer, "credential-issued, 2026-11-24" in book.says) == ("yes", True)


@pytest.mark.of_the_file(why="its file is changed aside of us")
def test_a_book_that_was_written_anew_is_not_the_one_of_the_head(
    keyed: Path, typed: Run, tmp_path: Path
) -> None:
    shutil.copyfile(keyed / "standfast.db", tmp_path / "before.db")
    signed_entry(typed)
    kept = typed("head", "--out", "out", "--json").json["file"]
    for file in keyed.glob("standfast.db*"):
        file.unlink()
    shutil.copyfile(tmp_path / "before.db", keyed / "standfast.db")
    shorter = typed("prove", "--since", kept, "--out", "out")
    signed_entry(typed)  # as many entries, and another one at the end
    refused = typed("prove", "--since", kept, "--out", "out")

    assert (shorter.code, refused.code) == (1, 1)
    assert "rewritten" in refused.err


# Whose keys are believed


@pytest.mark.usefixtures("keyed")
def test_the_first_trust_file_needs_its_fingerprint_and_a_later_one_a_key_that_is_known(
    typed: Run, standfast: Run
) -> None:
    typed("sign", NUMBER, "--out", "out")
    assert standfast("trust", "keys/trust.json").code == 1
    wrong = standfast("trust", "keys/trust.json", "--fingerprint", "x" * 43)
    assert (wrong.code, "do not copy this one" in wrong.err) == (1, True)
    assert believed(standfast).code == 0
    assert typed("keys", "rotate").code == 0
    other = standfast("trust", "keys/trust.json", "--fingerprint", "x" * 43)
    assert (other.code, "do not copy this one" in other.err) == (1, True)
    assert standfast("trust", "keys/trust.json").code == 0
    before = found(standfast("verify", FILE, "--json"))
    assert typed("sign", NUMBER, "--out", "out").code == 0

    assert before["key"] == "yes"  # what the old key signed stays good
    assert found(standfast("verify", FILE, "--json"))["key"] == "yes"


@pytest.mark.usefixtures("keyed")
def test_what_a_stolen_key_signed_is_not_known_and_what_a_lost_one_signed_stays_good(
    typed: Run, standfast: Run
) -> None:
    typed("sign", NUMBER, "--out", "out")
    believed(standfast)
    assert typed("keys", "lost").code == 0
    assert standfast("trust", "keys/trust.json").code == 0
    assert found(standfast("verify", FILE, "--json"))["key"] == "yes"
    typed("sign", NUMBER, "--out", "out")
    assert typed("keys", "lost", "--stolen").code == 0
    assert standfast("trust", "keys/trust.json").code == 0
    stolen = standfast("verify", FILE, "--school", ".", "--json")

    assert (found(stolen)["key"], found(stolen)["book"]) == ("not known", "yes")


@pytest.mark.usefixtures("keyed")
def test_a_changed_trust_file_is_refused(standfast: Run) -> None:
    known = fingerprint(standfast)
    file = Path("keys/trust.json")
    told = json.loads(file.read_text("utf-8"))
    told["keys"][1]["standby"] = False
    file.write_text(json.dumps(told), "utf-8")
    refused = standfast("trust", file, "--fingerprint", known)

    assert (refused.code, "was changed" in refused.err) == (2, True)


@pytest.mark.parametrize(
    ("content", "code"), [(None, 2), (b"", 1), (b"{}", 1), (b"\xff", 1), (b"[" * 9999, 1)]
)
@pytest.mark.usefixtures("keyed")
def test_what_is_no_certificate_is_said_to_be_none(
    standfast: Run, content: bytes | None, code: int
) -> None:
    file = Path("some.json")
    if content is not None:
        file.write_bytes(content)
    told = standfast("verify", file, "--json")

    assert told.code == code
    if content is not None:
        assert found(told) == {"shape": "no"}


@pytest.mark.usefixtures("keyed")
def test_whoever_kept_a_head_checks_growth_and_receipts_without_the_school(
    typed: Run, standfast: Run
) -> None:
    believed(standfast)
    kept = typed("head", "--out", "kept", "--json").json["file"]
    shown = typed("prove", signed_entry(typed), "--out", "out", "--json").json["file"]
    grown = typed("prove", "--since", kept, "--out", "out", "--json").json["file"]
    against = ("--kept", kept, "--json")

    assert standfast("verify", kept, "--json").code == 0
    assert found(standfast("verify", grown, *against))["kept"] == "yes"
    assert standfast("verify", grown, *against).code == 0
    assert found(standfast("verify", grown, "--json"))["kept"] == "not known"
    assert found(standfast("verify", shown, "--json"))["book"] == "yes"
