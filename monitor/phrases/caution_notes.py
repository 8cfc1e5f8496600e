"""Each caution in a few words, to stand beside the act that calls for it."""

from collections.abc import Mapping

from monitor.yard.assessment import Caution

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
