"""YAML from strangers: its meaning, its places, and what is refused."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
import yaml

from standfast.files.read import parse_yaml, read_yaml
from standfast.files.sheets import read_json
from standfast.problems import BadInput


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        # YAML 1.2.2, chapter 10.3.2, core schema tag resolution.
        pytest.param("no", "no", id="no is a word"),
        pytest.param("yes", "yes", id="yes is a word"),
        pytest.param("on", "on", id="on is a word"),
        pytest.param("off", "off", id="off is a word"),
        pytest.param("12:30", "12:30", id="no number to base sixty"),
        pytest.param("2026-03-01", "2026-03-01", id="no day"),
        pytest.param("1_000", "1_000", id="no number with a low line"),
        pytest.param("010", 10, id="no octal without its sign"),
        pytest.param("0o14", 12, id="octal"),
        pytest.param("0xC", 12, id="hexadecimal"),
        pytest.param("-12", -12, id="whole"),
        pytest.param("+12e03", 12000.0, id="exponent"),
        pytest.param("1.5", 1.5, id="fraction"),
        pytest.param(".5", 0.5, id="without a leading nought"),
        pytest.param("~", None, id="tilde"),
        pytest.param("null", None, id="null"),
        pytest.param("true", True, id="true"),
        pytest.param("FALSE", False, id="false in capitals"),
        pytest.param("'true'", "true", id="in quotes"),
        pytest.param('"12"', "12", id="number in quotes"),
        pytest.param("tRue", "tRue", id="mixed letters"),
        pytest.param("1" * 41, "1" * 41, id="longer than any number"),
    ],
)
def test_plain_words_mean_what_yaml_1_2_says(text: str, meaning: object) -> None:
    value = parse_yaml(f"key: {text}\n", "f.yaml").value["key"]

    assert value == meaning
    assert type(value) is type(meaning)


def test_every_value_and_key_knows_its_place() -> None:
    text = "a: 1\nb:\n  - x: 2\n    y: [3, {z: 4}]\n  - 'fünf'\n"

    document = parse_yaml(text, "f.yaml")

    def at(*path: str | int) -> str:
        return str(document.place(path))

    assert at("a") == "f.yaml:1:4"
    assert at("b", 0, "x") == "f.yaml:3:8"
    assert at("b", 0, "y", 1, "z") == "f.yaml:4:16"
    assert at("b", 1) == "f.yaml:5:5"
    assert at("b", 1, "nothing there") == "f.yaml:5:5"
    assert str(document.keys["b",]) == "f.yaml:2:1"
    assert str(document.keys["b", 0, "y", 1, "z"]) == "f.yaml:4:13"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param(
            "a: 1\na: 2\n", "f.yaml:2:1: key 'a' stands in line 1 already", id="key twice"
        ),
        pytest.param("a: &x 1\n", "f.yaml:1:4: anchor &x", id="anchor"),
        pytest.param("a: &x [1]\nb: *x\n", "f.yaml:2:4: alias *x", id="alias"),
        pytest.param("a: !!python/object:os.system {}\n", "f.yaml:1:4: tag", id="tag"),
        pytest.param("a: 1\n---\nb: 2\n", "f.yaml:2:1: a second document", id="two documents"),
        pytest.param("? [1]\n: 2\n", "f.yaml:1:3: a key is a list", id="list as key"),
        pytest.param("1: 2\n", "f.yaml:1:1: key 1 is no word", id="number as key"),
        pytest.param("a: [1, 2\n", "f.yaml:2:1", id="open bracket"),
        pytest.param("a:\n\tb: 1\n", "f.yaml:2:1: this sign cannot stand here; use sp", id="tab"),
        pytest.param("a: 1\n\tb: 1\n", "f.yaml:2:1: a tab stands where lines", id="tab in lines"),
        pytest.param("a: 'x\n", "f.yaml:2:1: a quote is opened and not closed", id="open quote"),
        pytest.param("a: b: c\n", "f.yaml:1:5: a ': ' stands where none", id="two colons"),
        pytest.param("a: 1\nb:2\nc: 3\n", "f.yaml:3:1: a line before this has no", id="no space"),
        pytest.param("a:\n  - 1\n b: 2\n", "f.yaml:3:2: a key or the end of a", id="indented"),
        pytest.param("a:\n  - 1\n  b: 2\n", "f.yaml:3:3: an item of the list", id="no hyphen"),
        pytest.param("a: {b: 1\nc: 2\n", "f.yaml:2:2: a comma or a closing bracket", id="comma"),
        pytest.param(
            "[" * 100_000, "f.yaml:1:1001: exceeded maximum nesting depth", id="deep flow"
        ),
        pytest.param(
            "\n".join(" " * n + "a:" for n in range(60)),
            "f.yaml:41:41: nested deeper than 40 levels",
            id="deep block",
        ),
    ],
)
def test_what_is_refused_has_its_place(text: str, said: str) -> None:
    with pytest.raises(BadInput) as refused:
        parse_yaml(text, "f.yaml")

    assert any(str(problem).startswith(said) for problem in refused.value.problems), str(
        refused.value
    )


def test_all_faults_of_form_are_told_at_once() -> None:
    with pytest.raises(BadInput) as refused:
        parse_yaml("a: &x 1\nb: *x\na: 2\n1: 3\n", "f.yaml")

    assert [problem.place.line for problem in refused.value.problems] == [1, 2, 3, 4]


def test_an_alias_bomb_takes_no_time(tmp_path: Path) -> None:
    levels = ["a0: &a0 [x, x]"]
    levels += [f"a{n}: &a{n} [*a{n - 1}, *a{n - 1}]" for n in range(1, 60)]
    began = time.process_time()

    with pytest.raises(BadInput):
        parse_yaml("\n".join(levels), "f.yaml")

    assert time.process_time() - began < 5  # 2 to the 60 would take for ever


@pytest.mark.parametrize(
    ("content", "said"),
    [
        pytest.param(b"", "is empty", id="empty"),
        pytest.param(b" \n\n", "is empty", id="blank"),
        pytest.param(b"a: 1\n\x00", "is binary", id="nul"),
        pytest.param("a: ü\n".encode("latin-1"), ":1:4: byte 0xfc is no UTF-8", id="latin-1"),
        pytest.param("a: 1\n".encode("utf-16"), "is written in UTF-16", id="utf-16"),
        pytest.param(b"\x89PNG\r\n\x1a\n", ":1:1: byte 0x89 is no UTF-8", id="picture"),
    ],
)
def test_files_that_are_no_text_are_named(tmp_path: Path, content: bytes, said: str) -> None:
    file = tmp_path / "f.yaml"
    file.write_bytes(content)

    with pytest.raises(BadInput) as refused:
        read_yaml(file)

    [problem] = refused.value.problems
    assert said in str(problem)
    assert problem.place.file == str(file)


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    file = tmp_path / "f.yaml"
    file.write_bytes(b"\xef\xbb\xbfa: 1\n")

    assert read_yaml(file).value == {"a": 1}


def test_a_huge_file_is_refused_without_being_read(tmp_path: Path) -> None:
    file = tmp_path / "f.yaml"
    with file.open("wb") as hole:
        hole.truncate(100 * 2**20)

    with pytest.raises(BadInput, match="104,857,600 bytes long, at most 4,000,000 are read"):
        read_yaml(file)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        pytest.param("nowhere.yaml", "No such file", id="missing"),
        pytest.param(".", "is no plain file", id="folder"),
        pytest.param("a\0b", "is no name of a file", id="nul in the name"),
        pytest.param("/dev/zero", "is no plain file", id="device"),
    ],
)
def test_what_is_no_file_is_named(tmp_path: Path, name: str, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        read_yaml(tmp_path / name)


def test_the_quick_parser_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    def slow(*_: object) -> None:
        raise AssertionError("the parser in Python was asked")

    monkeypatch.setattr(yaml.parser.Parser, "get_event", slow)

    assert parse_yaml("a: 1\n", "f.yaml").value == {"a": 1}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param('{"a": 1,}', ":1:", id="comma too many"),
        pytest.param('{"a": NaN}', "NaN is no number", id="no number"),
        pytest.param('{"a": 1, "a": 2}', "stands in line 1 already", id="key twice"),
        pytest.param("[" * 100_000, "f.json", id="deep"),
    ],
)
def test_json_is_held_to_its_form(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "f.json"
    file.write_text(text)

    with pytest.raises(BadInput, match=said):
        read_json(file)


def test_json_has_places_too(tmp_path: Path) -> None:
    file = tmp_path / "f.json"
    file.write_text('{\n\t"a": {"b": [1, "no"]}\n}')

    document = read_json(file)

    assert document.value == {"a": {"b": [1, "no"]}}
    assert document.place(("a", "b", 1)).line == 2
