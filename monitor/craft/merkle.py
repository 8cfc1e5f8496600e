"""The head of a yard's record: one hash over all its links in the order of writing (RFC 9162)."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256

from monitor.errors import QuantityError

_LEAF, _NODE = b"\x00", b"\x01"  # so that a node can never pass for a leaf
# Of a hash that a person copies out of a mail: 64 bits are more than anybody makes fit.
_SHORTEST = 16
_HEAD = re.compile(rf"(\d{{1,12}})-([0-9a-f]{{{_SHORTEST},64}})")


@dataclass(frozen=True, slots=True)
class RecordHead:
    """How many links the record held at one moment, and the hash over all of them.

    Who holds one can tell later whether those links are still the same, and still all there.
    """

    count: int
    root: str  # lowercase hex; 64 digits, or as many of the first as somebody kept

    def __str__(self) -> str:
        """As it stands in a mail's header."""
        return f"{self.count}-{self.root}"

    @property
    def short(self) -> str:
        """As it stands in a mail's last line: 128 bits of the hash."""
        return f"{self.count}-{self.root[:32]}"

    @classmethod
    def parse(cls, text: str) -> "RecordHead":
        """Read a head that was copied out of a mail.

        Raises
        ------
        QuantityError
            If it is not written like ``214-`` and at least 16 digits of the hash.
        """
        found = _HEAD.fullmatch(text.strip().lower())
        if found is None:
            raise QuantityError(
                f"{text!r} is no head of a record",
                "copy it whole from the mail's last line, like 214-9f86d081884c7d65",
            )
        return cls(int(found[1]), found[2])


class HashTree:
    """RFC 9162's tree over leaves that come one by one; keeps one hash for each full subtree."""

    def __init__(self) -> None:
        self._subtrees: list[tuple[int, bytes]] = []  # size and hash, the largest first
        self.count = 0

    def add(self, leaf: bytes) -> None:
        """Take in the next leaf."""
        size, node = 1, leaf_hash(leaf)
        while self._subtrees and self._subtrees[-1][0] == size:
            _, left = self._subtrees.pop()
            size, node = 2 * size, node_hash(left, node)
        self._subtrees.append((size, node))
        self.count += 1

    def copy(self) -> "HashTree":
        """Another tree of the same leaves, to go on from."""
        other = HashTree()
        other._subtrees, other.count = list(self._subtrees), self.count
        return other

    def root(self) -> str:
        """Hash over all leaves so far, as hex; of none: SHA-256 of nothing."""
        if not self._subtrees:
            return sha256().hexdigest()
        node = self._subtrees[-1][1]
        for _, left in reversed(self._subtrees[:-1]):
            node = node_hash(left, node)
        return node.hex()


def leaf_hash(leaf: bytes) -> bytes:
    """Hash of a leaf of the tree."""
    return sha256(_LEAF + leaf).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Hash of what stands above two subtrees."""
    return sha256(_NODE + left + right).digest()


def head_of(hashes: Iterable[str]) -> RecordHead:
    """Head of a record whose links have these hashes, in the order of writing."""
    tree = HashTree()
    for one in hashes:
        tree.add(leaf_of(one))
    return RecordHead(tree.count, tree.root())


def roots_at(hashes: Iterable[str], counts: Iterable[int]) -> Mapping[int, str]:
    """Root that the record had when it held so many links; counts that it never had are left out.

    Parameters
    ----------
    hashes : iterable of str
        Hashes of all links now, in the order of writing.
    counts : iterable of int
    """
    asked = set(counts)
    tree = HashTree()
    found = {0: tree.root()} if 0 in asked else {}
    for one in hashes:
        tree.add(leaf_of(one))
        if tree.count in asked:
            found[tree.count] = tree.root()
    return found


def leaf_of(link_hash: str) -> bytes:
    """What the tree takes of a link: the bytes of its hash; of a text that is none, the text's."""
    try:
        return bytes.fromhex(link_hash)
    except ValueError:
        return link_hash.encode()
