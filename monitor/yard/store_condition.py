"""How the store itself fares: the room on its disk, and whether its file is sound."""

from dataclasses import dataclass
from math import inf, isnan, nan

LITTLE_BYTES = 200_000_000  # a yard of twenty sensors writes some two million a day
NO_BYTES = 20_000_000
SOON_DAYS = 7.0  # a weekend and the days to buy a disk


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreCondition:
    """What was last measured of a store; what a database server keeps to itself is not known."""

    free_bytes: int | None = None  # None: not on a disk of this machine
    shrinks_bytes_a_day: float = nan  # by which the room got less over the last days; NaN: unknown
    reserve_bytes: int | None = None  # held now, for warnings on a full disk; None: none was made
    reserve_whole_bytes: int = 0
    damage: str = ""  # what the database says of its file; empty: nothing found
    rewritten: str = ""  # where the yard's lay-up record was cut or rewritten; empty: nowhere

    @property
    def days_left(self) -> float:
        """Days until the disk is full, if it goes on so; infinite where it does not shrink."""
        if self.free_bytes is None or isnan(self.shrinks_bytes_a_day):
            return inf
        if self.shrinks_bytes_a_day <= 0.0:
            return inf
        return self.free_bytes / self.shrinks_bytes_a_day

    @property
    def reserve_given_up(self) -> int:
        """Bytes of the reserve that were given up for want of room."""
        if self.reserve_bytes is None:
            return 0
        return max(self.reserve_whole_bytes - self.reserve_bytes, 0)

    @property
    def full(self) -> bool:
        """Whether there is next to no room, or what was kept for then is being used."""
        if self.free_bytes is None:
            return False
        return self.free_bytes < NO_BYTES or self.reserve_given_up > 0

    @property
    def little_room(self) -> bool:
        """Whether a person should make room within days; so also where the disk is full."""
        if self.free_bytes is None:
            return False
        return self.full or self.free_bytes < LITTLE_BYTES or self.days_left < SOON_DAYS
