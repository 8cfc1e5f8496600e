"""The lay-up record as chained lines, which anybody checks with SHA-256 and a JSON reader alone.

A line is a link of one craft's chain: ``craft``, ``body`` (the link in the canonical form of
RFC 8785, as text) and ``hash`` (SHA-256 of that text in UTF-8, in hexadecimal). Inside the body
stand what was written (``entry``, ``move``, ``craft`` or ``break``), ``number``, ``written_at`` and
``before``, the hash of the craft's link before it, 64 zeros for the first.

That shows what was changed, taken out of the middle or put in between. Only the head that left in
a mail (its last line) shows that the end of a chain was cut off: ``laidup verify --head``.
"""

import json
from collections.abc import Container, Iterator

from monitor.store.store import Store


def record_lines(store: Store, wanted: Container[str] | None = None) -> Iterator[str]:
    """Each link of each chain as a line of JSON, craft by craft, in the order of writing.

    ``wanted`` holds the ids of the craft whose chains are written; None is all, also of craft whose
    record cannot be read.
    """
    with store.snapshot() as tx:
        for craft in tx.layup.chain.craft_ids():
            if wanted is not None and craft not in wanted:
                continue
            for link in tx.layup.links_of(craft):
                said = {"craft": craft, "body": link.body, "hash": link.hash}
                yield json.dumps(said, ensure_ascii=False)
