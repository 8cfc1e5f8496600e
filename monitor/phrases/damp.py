"""What is said of damp: air that wets, metal that sweats."""

from monitor.phrases.air import keep_shut
from monitor.phrases.names import Names, plain
from monitor.phrases.numbers import nights_like_this
from monitor.phrases.standings import condensation_point_name
from monitor.physics.wetness import WET_HUMIDITY_PCT
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Standing, Subject
from monitor.yard.damp_facts import MOULD_SEEN, DampFacts, DewAheadFacts, WetDayFacts
from monitor.yard.space import OUTDOORS, SpaceKind

PUMP_BILGE = "Pump the bilge out and dry it."
_WORTH_TELLING_G_M2 = 1.0  # less than a breath on glass
_WORTH_SAYING = 0.1  # a chance so small is no news of metal that is dry
_WET = frozenset({Standing.SWEATING, Standing.FROSTING})


def wet_day_basis(facts: WetDayFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """For how many hours of the last day a building's air was wetting."""
    return (
        f"{names.space(seen.subject.space)} was above {WET_HUMIDITY_PCT:.0f} % RH and above"
        f" {words.temperature(0.0, 0)} for {facts.wet_h:.0f} of the {facts.heard_h:.0f} h heard of"
        f" the last day, at {facts.mean_rh_pct:.0f} % RH in the mean."
    )


def wet_day_act(subject: Subject, names: Names) -> str:
    """What dries a building."""
    return (
        f"Dry {names.space(subject.space)}: air it when the air outside holds less water, or run a"
        " dehumidifier, and look for standing water."
    )


def damp_basis(facts: DampFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """What metal and its air are at, the water on it, and what of the record raises it."""
    subject = seen.subject
    how = "by its probe" if facts.probed else f"by a lag of {facts.lag_h:.2g} h"
    space = names.space(subject.space)
    where = f"inside it in {space}" if facts.inside else f"in {space}"
    parts = [
        f"{names.part(subject.craft, subject.part)} at {words.temperature(seen.now_c)} {how};"
        f" {condensation_point_name(facts.point_c)} of the air {where}"
        f" {words.temperature(facts.point_c)}"
        f" (air {words.temperature(facts.air_c)}, {facts.air_rh_pct:.0f} % RH)."
    ]
    if facts.film_g_m2 > _WORTH_TELLING_G_M2:
        parts.append(f"About {facts.film_g_m2:.0f} g of water on each square metre.")
    if facts.ahead is not None:
        parts.append(_dew_ahead(facts.ahead, words))
    if facts.chance_sweating >= _WORTH_SAYING and seen.standing not in _WET:
        water = "Rime" if facts.chance_frosting > 0.5 * facts.chance_sweating else "Water"
        parts.append(f"{water} comes to lie on it {nights_like_this(facts.chance_sweating)}.")
    return " ".join([*parts, *_kept_so(facts, seen)])


def _dew_ahead(ahead: DewAheadFacts, words: Wording) -> str:
    return (
        f"By the forecast of {plain(ahead.source)} it lies below the"
        f" {condensation_point_name(ahead.point_c)} from about {words.clock(ahead.begins_at)} on,"
        f" even with the doors shut: at {words.temperature(ahead.metal_c)} against"
        f" {words.temperature(ahead.point_c)}, and about {ahead.film_g_m2:.0f} g of water come to"
        " lie on each square metre."
    )


def _kept_so(facts: DampFacts, seen: Assessment) -> list[str]:
    """What of the way the craft is kept raises or lowers the damp."""
    said = []
    if facts.brought_in:
        said.append("It still has the temperature that it was brought in with.")
    if facts.inside:
        water = "Water stands in its bilge" if facts.bilge_wet else "What is damp in it"
        kept = ""
        if facts.wrapped:
            kept = " under film that lets no vapour out"
        elif facts.closed:
            kept = " with hatches and lockers shut"
        damper = "and makes its air damper" if facts.bilge_wet else "stays, and its air is damper"
        said.append(f"{water}{kept} {damper} than the space's.")
        if facts.mould_index >= MOULD_SEEN:
            said.append(
                "Kept so for weeks, upholstery had conditions for mould: index"
                f" {facts.mould_index:.0f} of 6."
            )
    if seen.standing in _WET and facts.filmed:
        said.append(
            "It was sprayed with corrosion film: that keeps no dew off, but it corrodes less."
        )
    return said


def _shut_doors(ahead: DewAheadFacts, space: str, words: Wording) -> str:
    by = "now" if ahead.shut_by is None else f"by {words.clock(ahead.shut_by)}"
    until = "the metal has passed the dew point"
    if ahead.shut_until is not None:
        until = f"about {words.clock(ahead.shut_until)}"
    return (
        f"Shut the doors of {space} {by} and keep them shut until {until}; run the fans and warm"
        " the metal before the damp air comes, do not air the space."
    )


def _keep_drier(facts: DampFacts) -> list[str]:
    """What to change about the way in which a craft is kept."""
    acts = []
    if facts.bilge_wet:
        acts.append(PUMP_BILGE)
    if facts.closed:
        acts.append("Open its hatches, lockers and vents a hand's width, and enter that.")
    if facts.wrapped:
        acts.append("Cut vents into the film, two high and two low, or fit a cover that breathes.")
    return acts


def damp_act(facts: DampFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """What to do about metal that is wet, or that a forecast or its own craft would wet."""
    space_id = seen.subject.space
    space, kind = names.space(space_id), names.space_kind(space_id)
    kept = "".join(f" {each}" for each in _keep_drier(facts))
    if facts.ahead is not None:
        return f"{_shut_doors(facts.ahead, space, words)}{kept}"
    if seen.standing not in _WET or kind is SpaceKind.OPEN:
        return kept.strip()  # dew and rime under the sky are the weather's: nothing to do
    if kind in OUTDOORS:
        return (
            "Keep covers vented and their lee side open; dry and spray bare metal when it is over."
            f"{kept}"
        )
    source = plain(facts.public_source)
    given = f" if the forecast of {source} holds" if source else " if the air stays as it is"
    # Judgements of before this hour was shared have their own alone.
    shut = keep_shut(space, facts.shut_until or facts.clear_at, words, given)
    return f"{shut}; move the air with fans or warm the metal, do not air the space.{kept}"
