"""Proofs in a hash tree (RFC 9162): subtrees that cover all its leaves, and the shown leaves alone.

One cover proves several leaves at once, and that the tree extends what it was at earlier sizes.
It holds the hashes of RFC 9162's inclusion and consistency proofs, each once, from left to right.
"""

from collections.abc import Collection, Iterator, Sequence
from hashlib import sha256

from monitor.craft.merkle import leaf_hash, node_hash
from monitor.errors import BadValueError

# ``[size, hash]`` a subtree over so many leaves; ``[size]`` so many leaves that are shown.
Cover = list[list[int | str]]

_NO_LEAF = sha256().hexdigest()  # root of a tree without leaves
_DIGITS = 64
_MOST_LEAVES = 2**40  # more is no tree of a yard; bounds the depth of what a stranger wrote


class HashedTree:
    """A tree over leaves that are all known, hashed once, to give many covers of."""

    def __init__(self, leaves: Sequence[bytes]) -> None:
        """Hash a tree.

        Parameters
        ----------
        leaves : sequence of bytes
            What the tree is made over, in order; not their hashes.
        """
        self._levels = [[leaf_hash(one) for one in leaves]]
        while len(below := self._levels[-1]) > 1:
            pairs = range(0, len(below) - 1, 2)
            self._levels.append([node_hash(below[n], below[n + 1]) for n in pairs])

    @property
    def size(self) -> int:
        """How many leaves there are."""
        return len(self._levels[0])

    @property
    def root(self) -> str:
        """Hash over all leaves, as hex."""
        return self._node(0, self.size).hex() if self.size else _NO_LEAF

    def cover_of(self, shown: Collection[int], sizes: Collection[int] = ()) -> Cover:
        """The fewest subtrees beside the leaves that are shown.

        Parameters
        ----------
        shown : collection of int
            Leaves whose content is given beside the cover, from 0.
        sizes : collection of int
            Earlier sizes of the tree whose roots are to follow from the cover as well.
        """
        found: Cover = []
        cuts = sorted({*(cut for one in shown for cut in (one, one + 1)), *sizes})
        own = set(shown)
        for first, size in self._tiles(0, self.size, cuts):
            if first not in own:
                found.append([size, self._node(first, size).hex()])
            elif found and len(found[-1]) == 1:
                found[-1][0] = int(found[-1][0]) + 1
            else:
                found.append([1])
        return found

    def _tiles(self, first: int, size: int, cuts: Sequence[int]) -> Iterator[tuple[int, int]]:
        """Subtrees between the cuts: none has a cut inside."""
        inside = [cut for cut in cuts if first < cut < first + size]
        if size and not inside:
            yield first, size
        elif size:
            left = split_of(size)
            yield from self._tiles(first, left, inside)
            yield from self._tiles(first + left, size - left, inside)

    def _node(self, first: int, size: int) -> bytes:
        if size & (size - 1) == 0:
            return self._levels[size.bit_length() - 1][first // size]
        left = split_of(size)
        return node_hash(self._node(first, left), self._node(first + left, size - left))


class CoveredTree:
    """A tree as a cover and the leaves beside it tell of it."""

    def __init__(self, cover: object, shown: Sequence[bytes]) -> None:
        """Read a cover that anybody may have written.

        Parameters
        ----------
        cover : object
            What stands in the file for it.
        shown : sequence of bytes
            The leaves that are shown, in order.

        Raises
        ------
        BadValueError
            If it is no cover, or one of more or fewer leaves than are shown.
        """
        self._tiles: dict[int, tuple[int, bytes]] = {}
        self.places: list[int] = []  # of the leaves that are shown, each from 0
        size = 0
        for each in cover if isinstance(cover, list) else [None]:
            count, digest = _read_tile(each)
            if digest is not None:
                self._tiles[size] = (count, digest)
            else:
                if len(self.places) + count > len(shown):
                    raise BadValueError(f"cover: it shows more than the {len(shown)} leaves")
                for n in range(size, size + count):
                    self._tiles[n] = (1, leaf_hash(shown[len(self.places)]))
                    self.places.append(n)
            size += count
        if len(self.places) != len(shown):
            raise BadValueError(f"cover: it shows {len(self.places)} of {len(shown)} leaves")
        if size > _MOST_LEAVES:
            raise BadValueError(f"cover: {size} leaves are more than a yard has")
        self.size = size

    @property
    def root(self) -> str:
        """Hash over all leaves, as hex.

        Raises
        ------
        BadValueError
            If its subtrees are none of such a tree.
        """
        return self.root_at(self.size)

    def root_at(self, size: int) -> str:
        """Root that the tree had when it held so many leaves.

        Raises
        ------
        BadValueError
            If the cover does not tell.
        """
        if not 0 <= size <= self.size:
            raise BadValueError(f"cover: the tree has {self.size} leaves and not {size}")
        return self._node(0, size).hex() if size else _NO_LEAF

    def _node(self, first: int, size: int) -> bytes:
        there = self._tiles.get(first)
        if there is not None and there[0] == size:
            return there[1]
        if size == 1 or there is None:
            raise BadValueError(f"cover: it does not tell of the leaves from {first} on")
        left = split_of(size)
        return node_hash(self._node(first, left), self._node(first + left, size - left))


def split_of(size: int) -> int:
    """Leaves of the left one of the two subtrees of a tree: the largest power of two below it."""
    return 1 << (size - 1).bit_length() - 1


def _read_tile(said: object) -> tuple[int, bytes | None]:
    match said:
        case [int(count), str(text)] if type(count) is int and count > 0:
            try:
                digest = bytes.fromhex(text)
            except ValueError:
                digest = b""
            if len(text) == _DIGITS and len(digest) * 2 == _DIGITS and text == digest.hex():
                return count, digest
        case [int(count)] if type(count) is int and count > 0:
            return count, None
    raise BadValueError(f"cover: {str(said)[:40]!r} is neither a subtree nor shown leaves")
