"""The usual cautions, as pages, mails and reports show them, and in a few words beside an act.

Quantities are kept as SI. An aid to judgement: local codes and licensed trades always come first.
"""

from collections.abc import Mapping
from enum import StrEnum

from monitor.wording import FREEZING


class Caution(StrEnum):
    """The usual care that an act calls for."""

    CARBON_MONOXIDE = "carbon monoxide"
    FUEL_VAPOUR = "fuel vapour"
    HYDROGEN = "hydrogen"
    FROZEN_BATTERY = "frozen battery"
    GLYCOL = "glycol"
    HEATERS = "heaters"
    SNOW_LOAD = "snow load"
    NOT_LIFE_SAFETY = "not life safety"


CAUTION_TEXT: dict[Caution, str] = {
    Caution.CARBON_MONOXIDE: (
        "Carbon monoxide kills: never run an engine or an unvented heater indoors; an open door"
        " is not enough."
    ),
    Caution.FUEL_VAPOUR: (
        "Fuel vapour sinks and stays: sniff first, run the blower, no sparks and no open"
        " elements near bilges and tanks."
    ),
    Caution.HYDROGEN: (
        "Charging batteries give off hydrogen: vent the bench high up, switch the maintainer off"
        " at the mains before you touch the clamps, wear goggles."
    ),
    Caution.FROZEN_BATTERY: (
        "Never charge a battery that is or may be frozen, bulged or cracked: thaw it at room"
        f" temperature and look at it first. Lithium is never charged below {FREEZING}."
    ),
    Caution.GLYCOL: (
        "Catch antifreeze, label it and hand it to a licensed hauler; never onto the ground, into"
        " a drain or the lake. Ethylene glycol is sweet and kills pets and people: never in"
        " fresh-water systems."
    ),
    Caution.HEATERS: (
        "No unattended portable heaters, cords or lamps aboard; mains near water only behind"
        " ground-fault protection."
    ),
    Caution.SNOW_LOAD: (
        "Clear snow and ice from the ground with a soft, long-handled broom: no climbing onto a"
        " craft, a frame or a ladder, and nobody beneath what may slide or give way."
    ),
    Caution.NOT_LIFE_SAFETY: (
        "laidup is an aid to judgement, not a life-safety device; it does not replace smoke, gas"
        " or carbon-monoxide alarms, local codes or licensed people."
    ),
}


CAUTION_NOTES: Mapping[Caution, str] = {
    Caution.CARBON_MONOXIDE: "Engines run outdoors only.",
    Caution.FUEL_VAPOUR: "Sniff for fuel first.",
    Caution.HYDROGEN: "Air the bench, mains off first.",
    Caution.FROZEN_BATTERY: "Never charge it frozen.",
    Caution.GLYCOL: "Catch what runs out: poison.",
    Caution.HEATERS: "Leave no heater alone.",
    Caution.SNOW_LOAD: "From the ground, nobody beneath.",
}
NOT_LIFE_SAFETY_NOTE = "An aid to judgement, not a life-safety device."

for _caution in set(Caution) - CAUTION_NOTES.keys() - {Caution.NOT_LIFE_SAFETY}:
    raise ValueError(f"{_caution}: has no note")
