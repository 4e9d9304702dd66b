"""A candidate's record goes to another school, with proofs, as she agreed; there it is evidence."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from freezegun import freeze_time
from tests.cli.conftest import INES, ISSUER, MARIT, NAME, NUMBER, ON, PASSPHRASE, RUBRIC, Run
from tests.store.cluster import KEEPER, NEIGHBOUR, OWNER, Cluster
from tests.web.conftest import PASSWORD, Clock, served

from standfast.cli.app import run
from standfast.cli.options import moment
from standfast.desk.access import add_account
from standfast.desk.keyring import keyring, signing_key
from standfast.desk.opening import open_desk
from standfast.model.canonical import canonical
from standfast.model.tree import inclusion_proofs, leaf_hash, root
from standfast.seal.encoding import Unreadable
from standfast.seal.handed import Carried, line_of, read, written
from standfast.seal.receipts import signed_head

HERE = "ines-teles"
LOFT = "Loft School"
OUT = Path("ines.jsonl")
HANA = "Hana Dvořáková"
NOW = "2026-11-24 10:00:00"


@pytest.fixture(scope="module")
def made(schools: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two schools of which one handed a record to the other, made once, to be copied."""
    there = tmp_path_factory.mktemp("two")
    home = shutil.copytree(schools[1], there / "sandhof")
    with pytest.MonkeyPatch.context() as patched, freeze_time(NOW, ignore=["pydantic"]):
        patched.chdir(home)
        patched.setenv("STANDFAST_TRUST", str(there / "trust"))
        assert run(["award", INES, RUBRIC, "--certifier", MARIT, "--on", ON]) == 0
        assert run(["new", str(there / "loft"), "--name", LOFT]) == 0
        patched.setattr("sys.stdin", io.StringIO(f"{PASSPHRASE}\n" * 2))
        assert run(["keys", "make", "--issuer", ISSUER, "--passphrase-stdin"]) == 0
        shutil.copytree(home, there / "before")
        words = ["hand-over", INES, "--to", LOFT, "--agreed", ON, "--out", str(OUT)]
        assert run([*words, "--passphrase-stdin"]) == 0
        with open_desk(home, moment()) as desk:
            fingerprint = keyring(desk).signed.by.thumbprint
        assert run(["trust", "keys/trust.json", "--fingerprint", fingerprint]) == 0
    return there


@pytest.fixture
def two(made: Path, today: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Both schools, for this test alone; commands run in the first, `sandhof`."""
    del today
    there = shutil.copytree(made, tmp_path / "two")
    monkeypatch.chdir(there / "sandhof")
    monkeypatch.setenv("STANDFAST_TRUST", str(there / "trust"))
    return there


@pytest.fixture
def keyed(two: Path) -> Path:
    """The school that handed over."""
    return two / "sandhof"


@pytest.fixture
def loft(two: Path) -> Path:
    """The school that receives, and believes the keys of the first."""
    return two / "loft"


@pytest.fixture
def handed(two: Path) -> bytes:
    """The file that the first school handed over."""
    del two
    return OUT.read_bytes()


@pytest.fixture
def unhanded(two: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The first school before it handed anything over; commands run in it."""
    monkeypatch.chdir(two / "before")
    return two / "before"


def entries_of(content: bytes) -> list[dict[str, Any]]:
    return [json.loads(json.loads(line)["entry"]) for line in content.splitlines()[1:]]


def size(folder: Path) -> int:
    with open_desk(folder, moment()) as desk:
        return desk.book.size()


def in_book(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.glob("standfast.db*"))


def root_by_hand(leaf: bytes, index: int, entries: int, path: list[bytes]) -> bytes:
    """The root that an audit path leads to; RFC 9162 (2021), section 2.1.3.2, typed in here."""
    fn, sn, r = index, entries - 1, leaf
    for p in path:
        if fn % 2 or fn == sn:
            r = sha256(b"\1" + p + r).digest()
            while not fn % 2 and fn:
                fn, sn = fn // 2, sn // 2
        else:
            r = sha256(b"\1" + r + p).digest()
        fn, sn = fn // 2, sn // 2
    assert sn == 0
    return r


# --- what is in the file ----------------------------------------------------------------------


def test_whoever_has_the_file_works_out_the_head_with_a_hash_alone(handed: bytes) -> None:
    first, *lines = (json.loads(line) for line in handed.splitlines())
    head = first["head"]

    assert first["sha256"] == sha256(handed.partition(b"\n")[2]).hexdigest()
    assert first["lines"] == len(lines) == 9
    for line in lines:
        leaf = sha256(b"\0" + line["entry"].encode()).digest()
        path = [bytes.fromhex(step) for step in line["path"]]
        root = root_by_hand(leaf, line["index"], head["size"], path)
        assert root.hex() == head["root"]


def test_it_has_her_evidence_with_who_judged_under_which_text(handed: bytes) -> None:
    told, first = entries_of(handed), json.loads(handed.splitlines()[0])
    kinds = [one["kind"] for one in told]
    (award,) = (one["body"]["award"] for one in told if one["kind"] == "award-granted")
    sheets = [one["body"] for one in told if one["kind"] == "sheet-taken"]
    texts = {one["body"]["hash"] for one in told if one["kind"] == "text-kept"}

    assert kinds.count("sheet-taken") == 3
    assert {"person-set", "decision-made", "award-granted"} < set(kinds)
    assert award["number"] == NUMBER
    assert {s["rubric"]["hash"] for s in sheets} | {s["syllabus"]["hash"] for s in sheets} == texts
    names = {one["ref"]: one["name"] for one in first["people"]}
    assert {names[s["sheet"]["assessor"]] for s in sheets} >= {HANA, "Leilani Kahananui"}
    assert names[award["certifier"]] == "Marit Solheim Aune"


def test_nothing_of_anybody_else_is_in_it(handed: bytes, keyed: Path) -> None:
    first = json.loads(handed.splitlines()[0])
    with open_desk(keyed, moment()) as desk:
        refs, people = desk.book.handles(), desk.book.people()
    named = {INES} | {one["slug"] for one in first["people"]}
    others = [one for one in people if one.id not in named]

    assert len(others) > 5
    for one in others:
        assert one.name.encode() not in handed
        assert one.id.encode() not in handed
    own = next(ref for ref, slug in refs.items() if slug == INES)
    assert {one["about"] for one in entries_of(handed)} == {own, None}
    assert b"example.org" not in handed


def test_her_agreement_stands_in_the_sending_book_and_in_the_file(
    handed: bytes, standfast: Run
) -> None:
    *_, last = entries_of(handed)
    story = standfast("history", INES, "--json").flat

    said = {k: v for k, v in last["body"]["hand_over"].items() if k != "person"}
    assert said == {"to": LOFT, "asked_by": "candidate", "agreed": ON}
    assert f"record handed over to {LOFT}" in story
    assert standfast("book", "audit").code == 0


def test_ties_to_others_are_left_out_and_it_is_said(
    loft: Path, unhanded: Path, standfast: Run, typed: Run
) -> None:
    people = unhanded / "candidates" / "people.yaml"
    text = people.read_text("utf-8")
    tie = "    conflicts: [{person: kei-ito, kind: family, since: 2026-01-01}]\n"
    begin = text.index(f"person: {INES}\n") + len(f"person: {INES}\n")
    other = re.search(r"person: (\S+)\n", text[begin:])
    assert other
    tie = tie.replace("kei-ito", other[1])
    people.write_text(text[:begin] + tie + text[begin:], "utf-8")
    assert standfast("people").code == 0
    ran = typed("hand-over", INES, "--to", "loft-school", "--agreed", ON, "--out", OUT, "--json")

    assert (ran.code, ran.json["shortened"]) == (0, 1)
    assert b"family" not in OUT.read_bytes()
    assert b'conflicts\\":[' not in OUT.read_bytes()
    took = standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)
    assert took.code == 0, took.err
    assert "From 1 of them ties to others" in record_text(standfast, loft)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param((), "without her agreement", id="no agreement"),
        pytest.param(("--agreed", "2027-01-01"), "which is to come", id="agrees later"),
        pytest.param(("--agreed", ON, "--to", "sandhof"), "is this school", id="to itself"),
    ],
)
def test_without_what_it_takes_nothing_is_handed_over(
    loft: Path, unhanded: Path, typed: Run, words: tuple[str, ...], said: str
) -> None:
    before = size(unhanded)
    ran = typed("hand-over", INES, "--to", LOFT, "--out", OUT, *words)

    assert (ran.code, said in ran.err) == (1, True), ran.err
    assert not OUT.exists()
    assert size(unhanded) == before


def test_an_erased_candidate_is_handed_over_to_nobody(
    loft: Path, unhanded: Path, standfast: Run, typed: Run
) -> None:
    with open_desk(unhanded, moment()) as desk:
        ref = next(ref for ref, slug in desk.book.handles().items() if slug == INES)
    assert standfast("book", "forget", INES, "--yes").code == 0

    for who, code, said in ((INES, 2, "no person"), (ref, 1, "the name was erased")):
        ran = typed("hand-over", who, "--to", LOFT, "--agreed", ON, "--out", OUT)
        assert (ran.code, said in ran.err) == (code, True), ran.err
    assert not OUT.exists()


def test_what_cannot_be_read_back_is_said_to_be_entered_all_the_same(
    unhanded: Path, typed: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = size(unhanded)
    monkeypatch.setattr("standfast.seal.handed.MOST_BYTES", 100)
    ran = typed("hand-over", INES, "--to", LOFT, "--agreed", ON, "--out", OUT)

    assert ran.code != 0
    assert "more than 100 bytes; it is entered and was not written" in ran.err
    assert size(unhanded) == before + 1
    assert not OUT.exists()


@pytest.mark.usefixtures("unhanded")
def test_a_run_that_is_killed_leaves_no_file_that_looks_whole(typed: Run) -> None:
    killed = (
        "import os; import standfast.desk.handing as m; m._content = lambda *_: os.kill(0, 9);"
        "from standfast.cli.app import run; import sys; run(sys.argv[1:])"
    )
    words = ("hand-over", INES, "--to", LOFT, "--agreed", ON, "--out", str(OUT))
    done = subprocess.run(
        [sys.executable, "-c", killed, *words, "--passphrase-stdin"],
        start_new_session=True,
        check=False,
        input=f"{PASSPHRASE}\n".encode(),
    )
    half = OUT.with_name(f"{OUT.name}-unfinished")
    left = (OUT.exists(), half.exists())
    again = typed(*words)
    half.unlink()

    assert (done.returncode, left) == (-9, (False, True))
    assert (again.code, f"{half}: a run that was stopped" in again.err) == (2, True)
    assert typed(*words).code == 0
    assert OUT.exists()
    assert not half.exists()


def test_no_file_is_overwritten(loft: Path, unhanded: Path, typed: Run) -> None:
    OUT.write_text("mine", "utf-8")
    before = size(unhanded)
    ran = typed("hand-over", INES, "--to", LOFT, "--agreed", ON, "--out", OUT)

    assert (ran.code, OUT.read_text("utf-8"), size(unhanded)) == (1, "mine", before)


def test_an_erasure_says_which_school_has_the_record_too(handed: bytes, standfast: Run) -> None:
    ran = standfast("book", "forget", INES, "--yes", "--json")

    assert ran.json["handed_over_to"] == [LOFT]


# --- taking it in ------------------------------------------------------------------------------


def record_text(standfast: Run, folder: Path, who: str = HERE) -> str:
    ran = standfast("print", "record", who, "--out", folder / "paper", "--school", folder)
    assert ran.code == 0, ran.err
    page = folder / "paper" / f"record-{who}.pdf"
    told = subprocess.run(["pdftotext", "-layout", page, "-"], capture_output=True, check=True)
    return " ".join(told.stdout.decode().split())


def test_nothing_is_entered_before_somebody_said_that_it_is_she(
    handed: bytes, loft: Path, standfast: Run
) -> None:
    before = in_book(loft)
    ran = standfast("take-in", OUT, "--as", HERE, "--school", loft)

    assert ran.code == 0, ran.err
    assert f"'{NAME}' there; here {HERE} is new" in ran.out
    assert "nothing was entered" in ran.out
    assert "student stays on the ground" in " ".join(ran.out.split())
    assert in_book(loft) == before


def test_it_is_shown_with_its_origin_and_gives_nothing(
    handed: bytes, loft: Path, standfast: Run
) -> None:
    ran = standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)
    decided = standfast("decide", HERE, RUBRIC, "--on", ON, "--school", loft, "--json").json
    text = record_text(standfast, loft)

    assert ran.code == 0, ran.err
    assert "From elsewhere: Sandhof" in text
    assert "no award and no permission here" in text
    assert "each leads to the head" in text
    assert f"award {NUMBER}" in text
    assert HANA in text
    assert "no decision of this one" in text
    assert "Five looks before the first" in text.partition("no decision of this one")[2]
    assert "What to do next" not in text
    assert "Awards None." in text
    assert (decided["decision"]["outcome"], decided["decision"]["sheets"]) == ("more", [])
    assert standfast("holds", NUMBER, "--on", ON, "--school", loft).code != 0
    assert standfast("book", "audit", "--school", loft).code == 0


def test_its_page_shows_what_was_found_there_and_leads_to_nothing_here(
    handed: bytes, loft: Path, standfast: Run
) -> None:
    assert standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft).code == 0
    with open_desk(loft, moment()) as desk:
        add_account(desk, "reader", ("reader",), PASSWORD, person=None)
    with served(loft, Clock()) as house:
        page = house.visitor("reader").get(f"/people/{HERE}").text
    _, _, there = page.partition("From elsewhere: Sandhof")
    there, _, _ = there.partition("The story, as entered")

    assert "as entered in that school&#39;s record book; no decision of this one" in there
    assert "Five looks before the first" in there
    assert HANA in there
    assert "href" not in there


def test_the_same_file_twice_is_once(handed: bytes, loft: Path, standfast: Run) -> None:
    take = ("take-in", OUT, "--as", HERE, "--yes", "--school", loft, "--json")
    first = standfast(*take).json
    after = size(loft)
    again = standfast(*take).json

    assert (first["entered"], again["entered"], again["again"]) == (True, False, True)
    assert again["entry"] == first["entry"]
    assert size(loft) == after
    other = standfast("take-in", OUT, "--as", "somebody-else", "--yes", "--school", loft)
    assert (other.code, f"as the record of {HERE}" in other.err) == (1, True)


def test_a_later_file_takes_the_earlier_ones_place_on_paper_and_names_nobody_twice(
    handed: bytes, loft: Path, standfast: Run, typed: Run
) -> None:
    standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)
    with open_desk(loft, moment()) as desk:
        people = desk.book.people()
    suspend = ("suspend", NUMBER, "--certifier", MARIT, "--on", ON, "--because", "she asked")
    assert standfast(*suspend).code == 0
    typed("hand-over", INES, "--to", LOFT, "--agreed", ON, "--out", "later.jsonl")
    ran = standfast("take-in", "later.jsonl", "--as", HERE, "--yes", "--school", loft, "--json")
    text = record_text(standfast, loft)

    assert (ran.code, ran.json["new_people"]) == (0, [])
    assert f"award {NUMBER} suspended" in text
    assert text.count("Evidence from elsewhere") == 1
    with open_desk(loft, moment()) as desk:
        assert desk.book.people() == people


def test_an_erasure_where_it_was_taken_in_leaves_no_name_and_lasts(
    handed: bytes, loft: Path, standfast: Run, typed: Run
) -> None:
    standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)
    assert NAME.encode() in in_book(loft)
    hana = f"sandhof-{HANA.lower().replace(' ', '-').replace('ř', 'r')}".replace("á", "a")
    for slug in (HERE, hana):
        assert standfast("book", "forget", slug, "--yes", "--school", loft).code == 0
    again = standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)

    assert (again.code, "stays erased" in again.err) == (1, True)
    for name in (NAME, HANA):
        assert name.encode() not in in_book(loft)
    assert standfast("book", "audit", "--school", loft).code == 0
    assert standfast("book", "rebuild", "--school", loft).code == 0


def test_whom_the_receiver_erased_a_later_file_names_no_more(
    handed: bytes, loft: Path, standfast: Run, typed: Run
) -> None:
    standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)
    assert (
        standfast("book", "forget", "sandhof-hana-dvorakova", "--yes", "--school", loft).code == 0
    )
    typed("hand-over", INES, "--to", LOFT, "--agreed", ON, "--out", "later.jsonl")
    ran = standfast("take-in", "later.jsonl", "--as", HERE, "--yes", "--school", loft)

    assert ran.code == 0, ran.err
    assert HANA.encode() not in in_book(loft)
    assert "erased person" in record_text(standfast, loft)


def test_it_comes_back_in_a_copy_and_stands_in_her_own_data(
    handed: bytes, loft: Path, standfast: Run, tmp_path: Path
) -> None:
    standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)
    assert standfast("export", "--out", "open", "--school", loft).code == 0
    assert standfast("book", "restore", "open", "--into", tmp_path / "again").code == 0
    hers = standfast("book", "person-data", HERE, "--out", "hers", "--school", loft)

    assert record_text(standfast, tmp_path / "again") == record_text(standfast, loft)
    assert hers.code == 0, hers.err
    assert "record taken in from Sandhof" in Path("hers/person-data.txt").read_text("utf-8")


def test_an_assessor_s_own_data_has_nothing_of_the_candidate_s_evidence(
    handed: bytes, loft: Path, standfast: Run
) -> None:
    standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)
    hana = "sandhof-hana-dvorakova"
    ran = standfast("book", "person-data", hana, "--out", "hers", "--school", loft)
    told = json.loads(Path("hers/person-data.json").read_text("utf-8"))
    (named,) = (one for one in told["entries"] if one["kind"] == "taken-in")

    assert ran.code == 0, ran.err
    assert named["body"]["people"][0]["person"] == hana
    assert "carried" not in named["body"]
    assert NAME not in json.dumps(told, ensure_ascii=False)
    assert NUMBER not in json.dumps(told)


def test_it_goes_between_two_schools_of_one_database_alike(
    unhanded: Path, loft: Path, standfast: Run, typed: Run, cluster: Cluster
) -> None:
    owner = cluster.address(OWNER, cluster.new_database())
    for folder, role in ((unhanded, KEEPER), (loft, NEIGHBOUR)):
        moved = standfast("book", "move", owner, "--role", role, "--school", folder)
        assert moved.code == 0, moved.err
    gave = typed("hand-over", INES, "--to", LOFT, "--agreed", ON, "--out", OUT)
    took = standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)

    assert (gave.code, took.code) == (0, 0), gave.err + took.err
    assert f"award {NUMBER}" in record_text(standfast, loft)
    for folder in (unhanded, loft):
        assert standfast("book", "audit", "--school", folder).code == 0


# --- what is not taken in ---------------------------------------------------------------------


def refused(standfast: Run, loft: Path, content: bytes, code: int, said: str) -> None:
    before = in_book(loft)
    OUT.write_bytes(content)
    ran = standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)

    assert (ran.code, said in ran.err) == (code, True), ran.err
    assert in_book(loft) == before


def test_every_byte_that_is_changed_is_noticed(handed: bytes) -> None:
    step = len(handed) // 400
    for at in range(0, len(handed), step):
        changed = bytearray(handed)
        changed[at] ^= 1
        with pytest.raises(Unreadable):
            read(bytes(changed))


def test_a_changed_mark_is_named_by_its_line(handed: bytes, loft: Path, standfast: Run) -> None:
    lines = handed.splitlines(keepends=True)
    at = next(n for n, line in enumerate(lines) if b"sheet-taken" in line)
    changed = re.sub(rb'(level\\":)\d', rb"\g<1>9", lines[at], count=1)
    assert changed != lines[at]
    content = b"".join((*lines[:at], changed, *lines[at + 1 :]))

    refused(standfast, loft, content, 2, f"line {at + 1}: the entry was changed")


@pytest.mark.parametrize(
    ("alter", "said"),
    [
        pytest.param(lambda lines: lines[:-1], "8 lines follow", id="one taken out"),
        pytest.param(
            lambda lines: [lines[0], *reversed(lines[1:])], "taken out or moved", id="turned round"
        ),
        pytest.param(lambda _: [], "no record that a school", id="empty"),
        pytest.param(lambda lines: lines[1:], "no record that a school", id="without the first"),
    ],
)
def test_a_line_that_is_missing_or_moved_is_noticed(
    handed: bytes,
    loft: Path,
    standfast: Run,
    alter: Callable[[list[bytes]], list[bytes]],
    said: str,
) -> None:
    content = b"".join(alter(handed.splitlines(keepends=True)))

    refused(standfast, loft, content or b"{}", 2, said)


def signed_again(keyed: Path, content: bytes, alter: Callable[[list[Carried]], None]) -> bytes:
    """What a school could sign that means to deceive: the lines altered, the signature its own."""
    was = read(content)
    lines = list(was.carried)
    alter(lines)
    kept = ("issuer", "school", "school_name", "candidate", "people", "head")
    told = was.first.model_dump(mode="json", include=set(kept), exclude_none=True)
    with open_desk(keyed, moment()) as desk:
        key = signing_key(desk, PASSPHRASE)
        return written(told, [line_of(one) for one in lines], key, desk.moment.now)


def test_an_entry_of_some_megabytes_can_be_handed_over(handed: bytes, keyed: Path) -> None:
    long = json.dumps({"note": '"' * 3_000_000}, separators=(",", ":"))

    def put(lines: list[Carried]) -> None:
        leaf = sha256(b"\0" + lines[0].entry.encode()).hexdigest()
        lines[0] = lines[0].model_copy(update={"entry": long, "leaf": leaf})

    assert read(signed_again(keyed, handed, put)).carried[0].entry == long


def another_path(lines: list[Carried]) -> None:
    lines[2] = lines[2].model_copy(update={"index": lines[2].index + 1})


def another_mark(lines: list[Carried]) -> None:
    at = next(n for n, one in enumerate(lines) if '"sheet-taken"' in one.entry)
    entry = re.sub(r'("level":)\d', r"\g<1>4", lines[at].entry, count=1)
    lines[at] = lines[at].model_copy(update={"entry": f"{entry[:-1]} }}"})


def shortened_mark(lines: list[Carried]) -> None:
    at = next(n for n, one in enumerate(lines) if '"sheet-taken"' in one.entry)
    leaf = sha256(b"\0" + lines[at].entry.encode()).hexdigest()
    lines[at] = lines[at].model_copy(update={"leaf": leaf})


def no_agreement(lines: list[Carried]) -> None:
    del lines[-1]


def twice(lines: list[Carried]) -> None:
    lines.insert(2, lines[1])


@pytest.mark.parametrize(
    ("alter", "said"),
    [
        pytest.param(another_path, "does not lead to the head", id="wrong proof"),
        pytest.param(another_mark, "does not lead to the head", id="another mark"),
        pytest.param(shortened_mark, "handed over whole or not", id="shortened without need"),
        pytest.param(no_agreement, "no entry that she agreed", id="no agreement"),
        pytest.param(twice, "one is there twice", id="twice"),
    ],
)
def test_a_school_that_is_believed_cannot_hand_over_just_anything(
    handed: bytes,
    keyed: Path,
    loft: Path,
    standfast: Run,
    alter: Callable[[list[Carried]], None],
    said: str,
) -> None:
    refused(standfast, loft, signed_again(keyed, handed, alter), 2, said)


Entries = list[dict[str, Any]]


def of_another_book(keyed: Path, content: bytes, alter: Callable[[Entries], None]) -> bytes:
    """What a school could hand over from a book made to deceive: entries altered, proofs good."""
    was, entries = read(content), entries_of(content)
    alter(entries)
    texts = [canonical(one).decode() for one in entries]
    leaves = [leaf_hash(text.encode()) for text in texts]
    lines = [
        Carried(entry=text, index=at, path=tuple(step.hex() for step in path))
        for at, (text, path) in enumerate(
            zip(texts, inclusion_proofs(leaves, range(len(leaves))), strict=True)
        )
    ]
    kept = {"issuer", "school", "school_name", "candidate", "people"}
    told = was.first.model_dump(mode="json", include=kept, exclude_none=True)
    with open_desk(keyed, moment()) as desk:
        key, now = signing_key(desk, PASSPHRASE), desk.moment.now
        told["head"] = signed_head(was.first.issuer, len(leaves), root(leaves), key, now)
        return written(told, [line_of(one) for one in lines], key, now)


def of_kind(entries: Entries, kind: str) -> dict[str, Any]:
    return next(one for one in entries if one["kind"] == kind)


def no_id(entries: Entries) -> None:
    del of_kind(entries, "decision-made")["id"]


def no_supersedes(entries: Entries) -> None:
    del of_kind(entries, "sheet-taken")["supersedes"]


def one_key_more(entries: Entries) -> None:
    of_kind(entries, "sheet-taken")["note"] = "so it was"


def many_ids(entries: Entries) -> None:
    of_kind(entries, "sheet-taken")["id"] = []


def no_rubric(entries: Entries) -> None:
    entries.remove(next(one for one in entries if "rubric" in text_of(one)))


def no_syllabus(entries: Entries) -> None:
    entries.remove(next(one for one in entries if "syllabus" in text_of(one)))


def text_of(entry: dict[str, Any]) -> dict[str, Any]:
    return dict(entry["body"]) if entry["kind"] == "text-kept" else {}


def no_text_in_it(entries: Entries) -> None:
    body = of_kind(entries, "text-kept")["body"]
    body.pop("rubric", None)
    body.pop("syllabus", None)


def two_texts_in_it(entries: Entries) -> None:
    one, other = (e["body"] for e in entries if e["kind"] == "text-kept")
    one |= {key: text for key, text in other.items() if key != "hash"}


def of_no_record(entries: Entries) -> None:
    """An entry about her, that is none of a candidate's record."""
    one = of_kind(entries, "decision-made")
    one |= {"kind": "erased", "body": {"person": one["about"]}}


def of_no_kind(entries: Entries) -> None:
    of_kind(entries, "decision-made")["kind"] = "praise-given"


def ruling_alone(entries: Entries) -> None:
    granted = of_kind(entries, "award-granted")
    award = granted["body"]["award"]
    granted["kind"] = "award-ruled"
    granted["body"] = {
        "ruling": {
            "award": award["id"],
            "because": "she asked",
            "by": award["certifier"],
            "kind": "suspended",
            "on": award["granted"],
        }
    }


@pytest.mark.parametrize(
    ("alter", "said"),
    [
        pytest.param(no_id, "the entry does not say: id", id="no id"),
        pytest.param(no_supersedes, "the entry does not say: supersedes", id="no supersedes"),
        pytest.param(one_key_more, "no entry of a journal does: note", id="one key more"),
        pytest.param(many_ids, "'id' of the entry is nothing that", id="id is a list"),
        pytest.param(of_no_record, "'erased' is no part of a record", id="kind of no record"),
        pytest.param(of_no_kind, "known here: 'praise-given'", id="no kind"),
        pytest.param(no_rubric, "is not in the file", id="no rubric"),
        pytest.param(no_syllabus, "is not in the file", id="no syllabus"),
        pytest.param(no_text_in_it, "a rubric or a syllabus, one of the two", id="empty text"),
        pytest.param(two_texts_in_it, "a rubric or a syllabus, one of the two", id="two texts"),
        pytest.param(ruling_alone, "the award that it rules on is not", id="ruling, no award"),
    ],
)
def test_a_book_of_a_school_that_is_believed_is_not_taken_in_with_holes(
    handed: bytes,
    keyed: Path,
    loft: Path,
    standfast: Run,
    alter: Callable[[Entries], None],
    said: str,
) -> None:
    content = of_another_book(keyed, handed, alter)

    refused(standfast, loft, content, 2, said)
    assert re.search(rf"{OUT}:\d+:", standfast("take-in", OUT, "--as", HERE, "--school", loft).err)


def test_a_book_made_anew_without_holes_is_taken_in(
    handed: bytes, keyed: Path, loft: Path, standfast: Run
) -> None:
    OUT.write_bytes(of_another_book(keyed, handed, lambda _: None))
    ran = standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)

    assert ran.code == 0, ran.err


def test_what_was_taken_in_with_holes_before_is_printed_all_the_same(
    handed: bytes, keyed: Path, loft: Path, standfast: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def holes(entries: Entries) -> None:
        for make in (no_id, no_supersedes, no_rubric, ruling_alone):
            make(entries)

    OUT.write_bytes(of_another_book(keyed, handed, holes))
    with monkeypatch.context() as before:
        before.setattr("standfast.desk.taking._no_entry", lambda _: "")
        before.setattr("standfast.desk.taking._missing", lambda _: ())
        ran = standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)
    assert ran.code == 0, ran.err
    text = record_text(standfast, loft)

    assert "award that did not come along suspended" in text
    assert f"decision under {RUBRIC}: pass" in text


def test_the_id_of_whom_this_school_erased_is_tied_to_no_name_again(
    handed: bytes, loft: Path, standfast: Run
) -> None:
    standfast("take-in", OUT, "--as", HERE, "--yes", "--school", loft)
    with open_desk(loft, moment()) as desk:
        (hana,) = (
            ref for ref, slug in desk.book.handles().items() if slug == "sandhof-hana-dvorakova"
        )
    named = standfast("take-in", OUT, "--as", hana, "--school", loft)
    forgot = standfast("book", "forget", "sandhof-hana-dvorakova", "--yes", "--school", loft)
    before = size(loft)
    erased = standfast("take-in", OUT, "--as", hana, "--yes", "--school", loft)
    nobody = standfast("take-in", OUT, "--as", f"p-{'0' * 32}", "--yes", "--school", loft)

    assert (named.code, "opaque id of sandhof-hana-dvorakova" in named.err) == (1, True)
    assert forgot.code == 0, forgot.err
    assert (erased.code, "the name was erased: nobody can say" in erased.err) == (1, True)
    assert (nobody.code, "has the form of an opaque id" in nobody.err) == (1, True)
    assert size(loft) == before


def test_an_entry_about_somebody_else_is_refused_with_a_good_proof(
    handed: bytes, keyed: Path, loft: Path, standfast: Run
) -> None:
    head = read(handed).first.head
    with open_desk(keyed, moment()) as desk:
        other = next(e for e in desk.book.history() if e.kind == "person-set" and e.about != INES)
        (shown,) = desk.book.inclusions([other.id], head.size)
        text = desk.book.entry_content(other.id).decode()
    path = tuple(step.hex() for step in shown.path)
    one = Carried(entry=text, index=shown.index, path=path)
    content = signed_again(keyed, handed, lambda lines: lines.insert(0, one))

    refused(standfast, loft, content, 2, "it is about somebody else")


def test_a_school_that_nobody_compared_is_not_believed(
    handed: bytes, loft: Path, standfast: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("STANDFAST_TRUST", str(tmp_path / "nobody"))

    refused(standfast, loft, handed, 1, f"{ISSUER} is in no trust file")


def test_a_record_for_another_school_is_not_for_this_one(
    handed: bytes, loft: Path, standfast: Run
) -> None:
    settings = loft / "school.yaml"
    settings.write_text(settings.read_text("utf-8").replace(LOFT, "Barn School"), "utf-8")
    settings.write_text(re.sub("(?m)^school: .*$", "school: barn", settings.read_text("utf-8")))

    refused(standfast, loft, handed, 1, "she agreed that 'Loft School' receives it")


def test_a_school_does_not_take_in_its_own(handed: bytes, keyed: Path, standfast: Run) -> None:
    settings = keyed / "school.yaml"
    was = settings.read_text("utf-8")
    settings.write_text(re.sub("(?m)^name: .*$", f"name: {LOFT}", was), "utf-8")
    ran = standfast("take-in", OUT, "--as", INES, "--yes")

    assert (ran.code, "of this very record book" in ran.err) == (1, True), ran.err


def test_a_name_in_an_entry_is_refused_since_nobody_could_erase_it(handed: bytes) -> None:
    from standfast.desk.taking import _names_somebody

    people = [replace_name(read(handed).first.candidate, NAME)]

    assert _names_somebody(f'{{"text":"so {NAME} was late"}}', people)
    assert not _names_somebody('{"text":"so the candidate was late"}', people)


def replace_name(named: Any, name: str) -> Any:  # noqa: ANN401 - a model of the file
    return named.model_copy(update={"name": name})
