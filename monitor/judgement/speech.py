"""Words of a round of judgement: times by the yard's clock, quantities kept as SI."""

from dataclasses import dataclass
from datetime import datetime

from monitor.wording import Wording
from monitor.yard.space import Yard


@dataclass(frozen=True, slots=True, kw_only=True)
class Speech(Wording):
    """Words of one round of judgement, with its yard at hand."""

    yard: Yard

    @classmethod
    def for_yard(cls, yard: Yard, now: datetime) -> "Speech":
        """Words by the yard's clock; quantities stay in the text as SI."""
        return cls(zone=yard.zone, now=now, units=None, yard=yard)


def join_sentence(*parts: str) -> str:
    """Join parts that are not empty with spaces, the first letter large."""
    text = " ".join(part for part in parts if part)
    # A sensor's own name keeps its letters.
    return text if text.startswith("urn:") else text[:1].upper() + text[1:]
