"""The head of the record for every message that leaves, without hashing a whole yard each time."""

from monitor.craft.merkle import HashTree, RecordHead, leaf_of
from monitor.store.chain import Chain


class RecordHeads:
    """Remembers the tree over the links that are there, and takes in those that came since."""

    def __init__(self) -> None:
        self._tree = HashTree()
        self._last = ""  # hash of the last link in it

    def head(self, chain: Chain) -> RecordHead | None:
        """Head over all links of a yard now; None while there is none.

        A link that was read in a transaction that never was committed, or that somebody changed,
        is no longer the last one: then the tree is made anew.
        """
        tree, last = self._tree.copy(), self._last
        new = chain.links_since(since=tree.count - 1) if tree.count else chain.links_since()
        if tree.count and (not new or new[0].hash != last):
            tree, new = HashTree(), chain.links_since()
        elif tree.count:
            new = new[1:]
        for one in new:
            tree.add(leaf_of(one.hash))
            last = one.hash
        self._tree, self._last = tree, last
        return RecordHead(tree.count, tree.root()) if tree.count else None
