"""The Merkle tree of RFC 9162, section 2.1 (with SHA-256 the same as RFC 6962, section 2.1).

Leaves, roots and the proofs that hold are those of the public Certificate Transparency tests
(transparency-dev/merkle, test data, Apache-2.0); facts typed in, 2026-11.  Each proof is also
spoilt in the ways that those tests spoil it, and `data/merkle.json` has 130 of their own cases.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from standfast.model import tree
from standfast.model.canonical import canonical
from standfast.seal.encoding import Unreadable
from standfast.seal.receipts import Extension, Receipt, read

LEAVES = tuple(
    tree.leaf_hash(bytes.fromhex(content))
    for content in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
)

ROOTS = {
    0: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    1: "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    2: "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    3: "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    4: "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    5: "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    6: "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    7: "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    8: "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
}

# (index, size): the path, lowest hash first.
INCLUSION = {
    (0, 8): (
        "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
    ),
    (5, 8): (
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    ),
    (2, 3): ("fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",),
    (1, 5): (
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    ),
}

# (first size, second size): the proof.
CONSISTENCY = {
    (1, 8): INCLUSION[0, 8],
    (6, 8): (
        "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    ),
    (2, 5): (
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    ),
    (6, 7): (
        "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
        "b08693ec2e721597130641e8211e7eedccb4c26413963eee6c1e2ed16ffb1a5f",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    ),
}

GARBAGE = b"trailing garbage"


def hashes(texts: tuple[str, ...]) -> tuple[bytes, ...]:
    return tuple(bytes.fromhex(text) for text in texts)


def root_of(size: int) -> bytes:
    return bytes.fromhex(ROOTS[size])


def spoilt(proof: tuple[bytes, ...], *roots: bytes) -> Iterator[tuple[bytes, ...]]:
    """The proof cut, lengthened at both ends, doubled, swapped, and with one bit turned."""
    yield ()
    yield proof[:-1]
    yield proof[1:]
    yield from ((*proof, extra) for extra in (GARBAGE, b"", *roots, *proof))
    yield from ((extra, *proof) for extra in (GARBAGE, b"", *roots, *proof))
    for at, step in enumerate(proof):
        turned = bytes((step[0] ^ 1 << 4, *step[1:]))
        yield (*proof[:at], turned, *proof[at + 1 :])
    for at, (one, other) in enumerate(pairwise(proof)):
        yield (*proof[:at], other, one, *proof[at + 2 :])


@pytest.mark.parametrize("size", ROOTS)
def test_a_root_is_the_published_one(size: int) -> None:
    assert tree.root(LEAVES[:size]).hex() == ROOTS[size]


@pytest.mark.parametrize(("index", "size"), INCLUSION)
def test_an_inclusion_proof_is_the_published_one(index: int, size: int) -> None:
    path = hashes(INCLUSION[index, size])

    assert tree.inclusion_proof(LEAVES[:size], index) == path
    assert tree.includes(root_of(size), size, LEAVES[index], index, path)


@pytest.mark.parametrize(("index", "size"), INCLUSION)
def test_a_spoilt_inclusion_proof_is_noticed(index: int, size: int) -> None:
    path, root, leaf = hashes(INCLUSION[index, size]), root_of(size), LEAVES[index]
    other_places = (index - 1, index + 1, index ^ 2, -1, size)

    assert not any(tree.includes(root, size, leaf, index, wrong) for wrong in spoilt(path, root))
    assert not any(tree.includes(root, size, leaf, wrong, path) for wrong in other_places)
    assert not any(tree.includes(root, wrong, leaf, index, path) for wrong in (0, size * 2))
    assert not tree.includes(tree.EMPTY_ROOT, size, leaf, index, path)
    assert not tree.includes(b"", size, leaf, index, path)
    assert not tree.includes(root, size, b"wrong leaf", index, path)


@pytest.mark.parametrize(("index", "size"), [(0, 0), (0, 1), (1, 0), (2, 1)])
def test_nothing_is_included_where_the_root_or_the_leaf_is_empty(index: int, size: int) -> None:
    assert not tree.includes(tree.EMPTY_ROOT, size, b"", index, ())
    assert not tree.includes(b"", size, bytes.fromhex("abacaba0") + bytes(28), index, ())


@pytest.mark.parametrize(("first", "second"), CONSISTENCY)
def test_a_consistency_proof_is_the_published_one(first: int, second: int) -> None:
    proof = hashes(CONSISTENCY[first, second])

    assert tree.consistency_proof(LEAVES[:second], first) == proof
    assert tree.extends(root_of(first), first, root_of(second), second, proof)


@pytest.mark.parametrize(("first", "second"), CONSISTENCY)
def test_a_spoilt_consistency_proof_is_noticed(first: int, second: int) -> None:
    proof, old, new = hashes(CONSISTENCY[first, second]), root_of(first), root_of(second)

    assert not any(
        tree.extends(old, first, new, second, wrong) for wrong in spoilt(proof, old, new)
    )
    assert not any(
        tree.extends(old, wrong, new, second, proof) for wrong in (0, first + 1, second, second + 1)
    )
    assert not any(tree.extends(old, first, new, wrong, proof) for wrong in (first, second * 2))
    assert not tree.extends(new, first, old, second, proof)
    assert not tree.extends(b"wrong root", first, new, second, proof)
    assert not tree.extends(old, first, b"wrong root", second, proof)


def test_equal_trees_need_no_proof_and_take_none() -> None:
    one, other = b"don't care 2", b"don't care 3"

    assert tree.extends(one, 1, one, 1, ())
    assert not tree.extends(one, 1, other, 1, ())
    assert not tree.extends(one, 1, one, 1, (tree.EMPTY_ROOT,))
    assert not tree.extends(one, 1, one, 2, ())
    assert not tree.extends(one, 1, one, 0, ())


@pytest.mark.parametrize("proof", [(), (tree.EMPTY_ROOT,)])
@pytest.mark.parametrize("size", [0, 1])
def test_an_empty_first_tree_is_refused(size: int, proof: tuple[bytes, ...]) -> None:
    assert not tree.extends(tree.EMPTY_ROOT, 0, tree.EMPTY_ROOT, size, proof)


# The cases as they are published

DATA = json.loads((Path(__file__).parent / "data" / "merkle.json").read_text("utf-8"))
HASHES = {name: bytes.fromhex(text) for name, text in DATA["hashes"].items()}
ASKED_OF_A_FILE = {"0 of 1: leaf empty, root empty"}
"""To the tree a root is what it is told; that it has 32 bytes is asked where it comes in."""

Case = list[Any]
CASES = [pytest.param(one, id=f"{one[0]} {one[1]}") for one in DATA["cases"]]
EMPTY = [
    pytest.param(one, id=f"{one[0]} {one[1]}")
    for one in DATA["cases"]
    if one[4] == 0 or one[6] == "empty" or (one[0] == "extends" and one[3] == 0)
]


def shown(case: Case) -> bool:
    """What the tree answers."""
    what, _, _, at, size, one, other, path = case
    steps = [HASHES[name] for name in path]
    if what == "extends":
        return tree.extends(HASHES[one], at, HASHES[other], size, steps)
    return tree.includes(HASHES[other], size, HASHES[one], at, steps)


def test_the_published_cases_are_all_here() -> None:
    kinds = [(one[0], one[2]) for one in DATA["cases"]]

    assert {kind: kinds.count(kind) for kind in set(kinds)} == {
        ("extends", True): 5,
        ("extends", False): 60,
        ("includes", True): 4,
        ("includes", False): 61,
    }


@pytest.mark.parametrize("case", CASES)
def test_a_published_case_comes_out_as_published(case: Case) -> None:
    assert shown(case) is (case[2] or case[1] in ASKED_OF_A_FILE)


def head(size: int, root: bytes) -> dict[str, Any]:
    proof = {
        "type": "DataIntegrityProof",
        "cryptosuite": "eddsa-jcs-2022",
        "created": "2026-11-24T10:00:00Z",
        "verificationMethod": "https://sandhof.example/issuer#z6Mk" + "h" * 44,
        "proofPurpose": "assertionMethod",
        "proofValue": "z" + "2" * 88,
    }
    return {
        "kind": "standfast-head",
        "issuer": "https://sandhof.example/issuer",
        "size": size,
        "root": root.hex(),
        "at": "2026-11-24T10:00:00Z",
        "proof": [proof],
    }


def as_a_file(case: Case) -> bytes:
    what, _, _, at, size, one, other, path = case
    steps = [HASHES[name].hex() for name in path]
    if what == "extends":
        first, second = head(at, HASHES[one]), head(size, HASHES[other])
        told = {"kind": "standfast-extension", "first": first, "second": second, "path": steps}
    else:
        told = {
            "kind": "standfast-receipt",
            "entry": "{}",
            "index": at,
            "path": steps,
            "head": head(size, HASHES[other]),
        }
    return canonical(told)


@pytest.mark.parametrize("case", EMPTY)
def test_no_file_of_ours_names_an_empty_tree_or_a_root_that_is_none(case: Case) -> None:
    with pytest.raises(Unreadable, match="no such file"):
        read(as_a_file(case), Extension if case[0] == "extends" else Receipt)


def test_a_file_of_a_case_that_holds_is_read() -> None:
    extends, includes = (
        next(one for one in DATA["cases"] if one[0] == what and one[2])
        for what in ("extends", "includes")
    )

    assert read(as_a_file(extends), Extension).second.size == extends[4]
    assert read(as_a_file(includes), Receipt).index == includes[3]
