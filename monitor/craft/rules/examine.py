"""All rules of the trade over one craft's record."""

from collections.abc import Mapping
from datetime import UTC, datetime

from monitor.craft.craft_stays import Shelter
from monitor.craft.record import CraftRecord
from monitor.craft.rules import ageing, completeness, contradictions, order, symptoms, voids
from monitor.craft.rules.case import Breach, Case, Rule
from monitor.wording import Wording

RULES: tuple[Rule, ...] = (
    *voids.RULES,
    *symptoms.RULES,
    *order.RULES,
    *contradictions.RULES,
    *completeness.RULES,
    *ageing.RULES,
)


def examine(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    wording: Wording | None = None,
) -> list[Breach]:
    """Every rule that the record does not keep at one time, what took protection away first.

    Parameters
    ----------
    record : CraftRecord
        All that is on record about one craft.
    shelters : mapping of str to Shelter
        The yard's spaces by id.
    at : datetime
        The time to examine for; what is on record for later does not count.
    wording : Wording, optional
        Zone and units of the sentences.
    """
    case = Case(
        record=record,
        shelters=shelters,
        at=at.astimezone(UTC),
        words=wording or Wording(),
    )
    return [breach for rule in RULES for breach in rule(case)]
