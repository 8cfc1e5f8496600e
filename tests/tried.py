"""How often a property or a drill is tried: a few times in a commit, often at night.

A commit is tried on the same examples each time, so that a failure is of that commit; many new ones
are tried at night (``PROPERTIES=nightly``), by whoever has the time to follow what they find.
"""

import os

PROFILE = os.environ.get("PROPERTIES", "commit")
OFTEN = 20  # times what a commit tries


def tried(few: int) -> int:
    """How often to try what a commit tries a few times."""
    return OFTEN * few if PROFILE == "nightly" else few
