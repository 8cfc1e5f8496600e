"""Says of two craft in one berth that the record errs, and how to put it right."""

from collections.abc import Iterable
from datetime import datetime

from monitor.craft.berths import shared_berths
from monitor.craft.record import CraftRecord
from monitor.errors import Fault
from monitor.wording import listed
from monitor.yard.readers import words_for
from monitor.yard.space import Yard


def berth_faults(records: Iterable[CraftRecord], yard: Yard, at: datetime) -> list[Fault]:
    """One fault for each berth that holds more than one craft; all of them go on being judged."""
    wording, names = words_for(yard, at), {space.id: space.name for space in yard.spaces}
    return [
        Fault(
            file="lay-up record",
            key=f"{one.space}/{one.berth}",
            problem=f"{listed([f'{craft.name} ({craft.id})' for craft in one.craft])} share this"
            f" berth of {names.get(one.space, one.space)} since {wording.clock(one.since)}; each"
            " is judged as standing there",
            remedy="Look who does, and enter for the other where it stands with `laidup layup move"
            " CRAFT SPACE/BERTH --by NAME`, or when it left as `left` in its craft file.",
        )
        for one in shared_berths(records, at)
    ]
