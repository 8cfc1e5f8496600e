"""What every rule looks at, and what it has to say."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from monitor.craft.account import protections_around, season
from monitor.craft.craft_stays import Shelter
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.protection import Protection
from monitor.craft.record import CraftRecord, protections_on_record
from monitor.wording import Wording


@dataclass(frozen=True, slots=True, kw_only=True)
class Breach:
    """One rule that the record does not keep."""

    rule: str
    why: str  # what is wrong, and why it matters
    remedy: str
    part: str = ""  # circuit, "battery"; empty: the craft as a whole
    at: datetime | None = None  # when it came about; None: it never happened
    entry: str = ""  # id of the entry that it hangs on


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One craft's record as it stands at one time."""

    record: CraftRecord
    shelters: Mapping[str, Shelter]
    at: datetime
    words: Wording

    @property
    def profile(self) -> Profile:
        """The craft's type."""
        return self.record.profile

    @property
    def entries(self) -> tuple[LayupEntry, ...]:
        """Entries of this season that count, in the order of the work."""
        now = season(self.at)
        return tuple(one for one in self.record.standing(self.at) if season(one.at) == now)

    def protections(self, at: datetime) -> dict[str, Protection]:
        """What the circuits could stand at another time."""
        return protections_on_record(self.record, self.shelters, at, self.words)

    def protections_around(
        self, entry: LayupEntry
    ) -> tuple[dict[str, Protection], dict[str, Protection]]:
        """What the circuits could stand just before and just after a piece of work."""
        return protections_around(
            self.profile,
            self.record.entries,
            self.record.stays,
            self.shelters,
            self.at,
            entry.id,
            self.record.iced,
            self.words,
        )

    def name(self, circuit: str) -> str:
        """A circuit's name."""
        return self.profile.find(circuit).circuit.name


Rule = Callable[[Case], Iterator[Breach]]
