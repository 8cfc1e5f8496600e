"""In whose units and by whose clock a sentence is written: a person's own, or the yard's."""

from datetime import datetime

from monitor.wording import Units, Wording
from monitor.yard.people import names_by_id
from monitor.yard.space import Person, Yard


def units_of(yard: Yard, person: Person | None = None) -> Units:
    """What a person reads in; the yard's own units where none is known or asks for others."""
    temperature = None if person is None else person.temperature_unit
    volume = None if person is None else person.volume_unit
    return Units(
        temperature=temperature or yard.temperature_unit, volume=volume or yard.volume_unit
    )


def words_for(yard: Yard, now: datetime, person: Person | None = None) -> Wording:
    """Words for a reader: one person, or whoever looks at the yard's own page or screen."""
    return Wording(zone=yard.zone, now=now, units=units_of(yard, person), people=names_by_id(yard))


def words_kept(yard: Yard, now: datetime) -> Wording:
    """Words to be stored: whoever reads them gets the quantities in units of their own."""
    return Wording(zone=yard.zone, now=now, units=None, people=names_by_id(yard))
