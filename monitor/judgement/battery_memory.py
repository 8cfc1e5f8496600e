"""What a round carries over of a battery: when it may have frozen, what its voltage last told."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from monitor.judgement.rested import LastKnown
from monitor.judgement.speech import Speech
from monitor.yard.assessment import Assessment, Hazard

PART = "battery"
# Figures that carry a judgement over to the next round.
FROZEN_AT = "may_be_frozen_at_unix_s"  # last time at which ice in it could not be ruled out
KNOWN_AT = "charge_known_at_unix_s"  # a voltage last told its charge
KNOWN = "charge_known_fraction"


@dataclass(frozen=True, slots=True)
class Before:
    """What the rounds before knew of one battery."""

    frozen_at: datetime | None
    heard: LastKnown | None


NOTHING_BEFORE = Before(None, None)


def remembered(earlier: Iterable[Assessment], speech: Speech) -> dict[str, Before]:
    """By craft, what the last round said of its battery; see `Before`."""
    found = {}
    for each in earlier:
        if each.hazard is not Hazard.BATTERY or each.subject.part != PART:
            continue
        frozen_s, known_s = each.figures.get(FROZEN_AT), each.figures.get(KNOWN_AT)
        heard = None
        if known_s is not None and KNOWN in each.figures:
            at, fraction = _time(known_s), each.figures[KNOWN]
            how = f"last told to be {fraction * 100:.0f} % charged on {speech.date(at)}"
            heard = LastKnown(at=at, fraction=fraction, how=how)
        found[each.subject.craft] = Before(None if frozen_s is None else _time(frozen_s), heard)
    return found


def _time(unix_s: float) -> datetime:
    return datetime.fromtimestamp(unix_s, UTC)
