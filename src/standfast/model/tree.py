"""One hash for a whole journal, and short proofs about it: the Merkle tree of RFC 9162.

A proof that one entry is in the journal takes about log2(size) hashes, and so does a proof that
a later journal still begins with an earlier one.  Whoever kept a head (size and root) can check
both with `includes` and `extends`, and needs nothing else from us.

Source: RFC 9162 (Laurie, Messeri & Stradling, 2021), section 2.1; with SHA-256, its trees and
proofs are those of RFC 6962 (2013).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from hashlib import sha256

LEAF = b"\x00"
NODE = b"\x01"
"""The prefixes keep a leaf from being taken for a node."""

EMPTY_ROOT = sha256(b"").digest()


def leaf_hash(content: bytes) -> bytes:
    """The 32 bytes that stand for one entry in the tree."""
    return sha256(LEAF + content).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """The 32 bytes that stand for two neighbours."""
    return sha256(NODE + left + right).digest()


class GrowingTree:
    """The root of a tree that is read leaf by leaf, in memory for log2(size) hashes."""

    def __init__(self) -> None:
        self.size = 0
        self._peaks: list[bytes] = []

    def extend(self, leaves: Iterable[bytes]) -> None:
        """Adds leaf hashes at the end."""
        size, peaks = self.size, self._peaks
        for leaf in leaves:
            node, full = leaf, size
            while full & 1:
                node = sha256(NODE + peaks.pop() + node).digest()
                full >>= 1
            peaks.append(node)
            size += 1
        self.size = size

    def root(self) -> bytes:
        """The root over all leaves so far; that of an empty tree is the hash of nothing."""
        if not self._peaks:
            return EMPTY_ROOT
        root = self._peaks[-1]
        for peak in reversed(self._peaks[:-1]):
            root = node_hash(peak, root)
        return root


def root(leaves: Iterable[bytes]) -> bytes:
    """The root over leaf hashes.  Source: RFC 9162, section 2.1.1."""
    tree = GrowingTree()
    tree.extend(leaves)
    return tree.root()


def inclusion_proofs(
    leaves: Sequence[bytes], indices: Iterable[int]
) -> Iterator[tuple[bytes, ...]]:
    """For each index (from 0) the hashes, lowest first, that lead from that leaf to the root.

    The tree is made once.  Neighbours are joined level by level, and a last one that is left over
    goes up as it is: the tree of RFC 9162, section 2.1.1, whose left half is as large as can be.

    Source: RFC 9162, section 2.1.3.1.

    Raises:
        IndexError: no such leaf.
    """
    levels = [leaves]
    while len(levels[-1]) > 1:
        below = levels[-1]
        above = [node_hash(*below[at : at + 2]) for at in range(0, len(below) - 1, 2)]
        levels.append([*above, below[-1]] if len(below) % 2 else above)
    for index in indices:
        if not 0 <= index < len(leaves):
            raise IndexError(f"leaf {index} of {len(leaves)}")
        beside = ((level, (index >> height) ^ 1) for height, level in enumerate(levels))
        yield tuple(level[at] for level, at in beside if at < len(level))


def inclusion_proof(leaves: Sequence[bytes], index: int) -> tuple[bytes, ...]:
    """The one proof; see `inclusion_proofs`."""
    return next(inclusion_proofs(leaves, [index]))


def includes(root: bytes, size: int, leaf: bytes, index: int, path: Sequence[bytes]) -> bool:
    """Whether the path shows that the leaf stands at `index` of the tree with that root.

    Source: RFC 9162, section 2.1.3.2.
    """
    if not 0 <= index < size:
        return False
    at, last, node = index, size - 1, leaf
    for step in path:
        if last == 0:
            return False
        if at & 1 or at == last:
            node = node_hash(step, node)
            at, last = _past_empty_right(at, last)
        else:
            node = node_hash(node, step)
        at, last = at >> 1, last >> 1
    return last == 0 and node == root


def consistency_proof(leaves: Sequence[bytes], first: int) -> tuple[bytes, ...]:
    """The hashes that show that the tree over all leaves begins with that over `first` of them.

    Source: RFC 9162, section 2.1.4.1.

    Raises:
        IndexError: `first` is not from 1 to the number of leaves.
    """
    if not 1 <= first <= len(leaves):
        raise IndexError(f"a tree of {first} leaves inside one of {len(leaves)}")
    start, last, whole = 0, len(leaves), True
    proof: list[bytes] = []
    while first != last - start:
        middle = _split(last - start)
        if first <= middle:
            proof.append(root(leaves[start + middle : last]))
            last = start + middle
        else:
            proof.append(root(leaves[start : start + middle]))
            start, first, whole = start + middle, first - middle, False
    if not whole:
        proof.append(root(leaves[start:last]))
    return tuple(reversed(proof))


def extends(
    first_root: bytes, first: int, second_root: bytes, second: int, proof: Sequence[bytes]
) -> bool:
    """Whether the proof shows that the second tree begins with the whole first one.

    An empty first tree is refused: everything begins with it, and so it shows nothing.

    Source: RFC 9162, section 2.1.4.2.
    """
    if not 1 <= first <= second:
        return False
    if first == second:
        return not proof and first_root == second_root
    steps = list(proof)
    if first & (first - 1) == 0:
        steps.insert(0, first_root)
    if not steps:
        return False
    return _climb(first - 1, second - 1, steps) == (first_root, second_root)


def _climb(at: int, last: int, steps: Sequence[bytes]) -> tuple[bytes, bytes] | None:
    """The two roots that the steps of a consistency proof lead to; None when they do not fit."""
    while at & 1:
        at, last = at >> 1, last >> 1
    older = newer = steps[0]
    for step in steps[1:]:
        if last == 0:
            return None
        if at & 1 or at == last:
            older, newer = node_hash(step, older), node_hash(step, newer)
            at, last = _past_empty_right(at, last)
        else:
            newer = node_hash(newer, step)
        at, last = at >> 1, last >> 1
    return (older, newer) if last == 0 else None


def _past_empty_right(at: int, last: int) -> tuple[int, int]:
    """Up to the first level at which the node is a right child, or the leftmost."""
    while at and not at & 1:
        at, last = at >> 1, last >> 1
    return at, last


def _split(size: int) -> int:
    """The largest power of two smaller than `size`, which is at least 2."""
    return 1 << (size - 1).bit_length() - 1
