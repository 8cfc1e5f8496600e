"""When and of what the owners of craft are told: after the yard has answered, and by day."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta

from monitor.yard.duty import Span

_BY_DAY = Span(begins=time(8), ends=time(20))


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerTelling:
    """What a yard sets for its letters to owners.

    ``without_answer`` is how long an owner waits for the yard's answer at most. Three hours
    (common practice, no source): the yard's own people are reminded within two, and what is known
    at three in the afternoon reaches an owner at six, who can still call.
    """

    hours: Span = _BY_DAY
    without_answer: timedelta = timedelta(hours=3)
    names_staff: bool = False  # who of the yard's people did what

    def may_write_at(self, local: datetime, quiet: Span | None) -> bool:
        """Whether an owner may be written to now.

        Parameters
        ----------
        local : datetime
            By the yard's clock.
        quiet : Span or None
            Hours in which this owner wants no word, which then stand in place of the yard's. Those
            that leave no hour of a day count for nothing: they would silence all there is to say.
        """
        if quiet is None or quiet.begins == quiet.ends:
            return self.hours.holds(local)
        return not quiet.holds(local)
