"""The craft in the yard's care at any time, for commands that only look."""

from datetime import datetime

from monitor.commands.opening import Opened
from monitor.craft.stored import StoredCraft
from monitor.judgement.craft_in_care import craft_in_care


def craft_here(here: Opened, at: datetime) -> tuple[StoredCraft, ...]:
    """Add up the record as it stood at a time; nothing is written."""
    with here.store.snapshot() as tx:
        records = tx.layup.records(here.profiles)
    return craft_in_care(records, here.yard, at)
