"""The craft in the yard's care at any time, for commands that only look."""

from datetime import datetime

from monitor.commands.opening import Opened
from monitor.craft.record import stored_craft
from monitor.craft.stored import StoredCraft


def craft_here(here: Opened, at: datetime) -> list[StoredCraft]:
    """Add up the record as it stood at a time; nothing is written."""
    with here.store.snapshot() as tx:
        records = tx.layup.records(here.profiles)
    craft = (stored_craft(one, here.shelters, at, here.wording) for one in records)
    return [one for one in craft if one is not None]
