"""What is said of a circuit in the cold: what it can stand, what is coming, and what ice did."""

from math import isfinite

from monitor.craft.protection import Basis, LayupState
from monitor.phrases.air import low_basis
from monitor.phrases.names import Names
from monitor.phrases.numbers import nights_like_this
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Standing
from monitor.yard.frost_facts import FrostFacts, UnreadFrostFacts
from monitor.yard.losses import chance_of_loss

_WORTH_SAYING = 0.05


def frost_basis(facts: FrostFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """What a circuit can stand and why, how cold it gets inside, and what that rests on."""
    craft_id, part = seen.subject.craft, seen.subject.part
    protection = names.protection(craft_id, part)
    why = f" {protection.why.rstrip('. ')};" if protection is not None else ""
    lead = f"{names.part(craft_id, part)}:{why}"
    if facts.basis is Basis.DRAINED:
        return f"{lead} nothing in it can freeze."
    inside = (
        "its own probe"
        if facts.probed
        else f"computed with a lag of {facts.lag_h:.2g} h behind the coldest air"
    )
    parts = [
        f"{lead} {_what_it_stands(facts, seen, words)}. {_how_cold_now(seen, words)},"
        f" {words.temperature(seen.low_c)} at the lowest about {words.clock(seen.low_at)}"
        f" ({inside}).",
    ]
    if facts.low is not None:
        sky = ""
        if facts.sky_k > 0.0:
            sky = f", and a clear sky takes up to {words.difference(facts.sky_k)} more"
        parts.append(
            f"{names.space(seen.subject.space)} to {words.temperature(facts.air_low_c)}{sky}:"
            f" {low_basis(facts.low, words)}."
        )
    if seen.standing in {Standing.EXPOSED, Standing.THIN}:
        parts.append(chance_sentences(facts))
    if facts.layup is not LayupState.PROVEN and isfinite(facts.zero_without_heat_h):
        parts.append(
            "It is safe only while the space is heated: without heat the air would reach"
            f" {words.temperature(0.0, 0)} in about {facts.zero_without_heat_h:.0f} h."
        )
    if facts.start_is_guessed:
        space = names.space(seen.subject.space)
        parts.append(assumed_start(facts, names.craft_name(craft_id), space, words))
    if seen.standing is Standing.SUSPECT:
        parts.append(_past_ice(facts, words))
    return " ".join(part for part in parts if part)


def assumed_start(facts: FrostFacts, craft_name: str, space_name: str, words: Wording) -> str:
    """What is taken for granted of the hours before its air was read; empty where nothing is."""
    if not facts.start_is_guessed:
        return ""
    if facts.start_at is None:
        return "How cold it was before the readings began is not known."
    at = words.clock(facts.start_at)
    if facts.came_then:
        unknown = f"How cold {craft_name} came in at {at} is not known"
    else:
        unknown = f"Nothing was heard from {space_name} before {at}"
    if not facts.ice_is_assumed:
        return f"{unknown}: taken for as cold as the air then."
    return (
        f"{unknown}. As cold as the air then, there is ice inside now; warm then, the water can"
        " still be drained."
    )


def _how_cold_now(seen: Assessment, words: Wording) -> str:
    """How cold it is inside; of a part that thaws, which of it is that warm."""
    now = words.temperature(seen.now_c)
    if isinstance(seen.facts, FrostFacts) and seen.facts.ice_is_assumed:
        return f"Inside taken for {now} now"
    if seen.standing in {Standing.ICING, Standing.SOLID} and seen.now_c > seen.limit_c:
        return f"Ice is still in it; what has thawed is at {now} now"
    return f"Inside {now} now"


def chance_sentences(facts: FrostFacts) -> str:
    """How often a night like this brings ice, and how often ice breaks the circuit."""
    loss = chance_ice_breaks(facts)
    if not isfinite(loss):
        return ""
    said = []
    if not facts.mixed:
        said.append(f"First ice comes {nights_like_this(facts.chance_first_ice)}.")
    why = ": from a third of it ice on" if facts.mixed else ""
    said.append(f"Ice breaks it {nights_like_this(loss)}{why}.")
    through = facts.chance_frozen_through
    if isfinite(through) and through >= _WORTH_SAYING:
        said.append(f"It freezes through {nights_like_this(through)}.")
    return " ".join(said)


def chance_ice_breaks(facts: FrostFacts) -> float:
    """Chance of losing the circuit, by which it is judged exposed; NaN where none is known."""
    if facts.mixed:
        return facts.chance_third_ice
    return chance_of_loss(facts.chance_first_ice, facts.chance_third_ice)


def _what_it_stands(facts: FrostFacts, seen: Assessment, words: Wording) -> str:
    if facts.layup is not LayupState.PROVEN:
        stands = f"judged as plain water, ice at {words.temperature(0.0, 0)}"
    else:
        less = facts.glycol_allowed_for
        short = f", {less:.0%} less glycol allowed for" if less > 0.0 else ""
        stands = f"first ice at {words.temperature(seen.limit_c)} ({facts.basis}{short})"
    if facts.mixed:
        stands += f", a third of it ice at {words.temperature(facts.third_ice_c)}"
    return stands


def _past_ice(facts: FrostFacts, words: Wording) -> str:
    if facts.mixed and facts.past_ice.as_mix_at is not None:
        return (
            f"A third of it or more was ice at {words.clock(facts.past_ice.as_mix_at)}; what stands"
            " in it now may be weaker than what was read."
        )
    if facts.past_ice.at is None and facts.past_ice.maybe_at is not None:
        return (
            f"There may have been ice in it until {words.clock(facts.past_ice.maybe_at)}: how cold"
            " it was before its air was read is not known."
        )
    return "It has been through ice; warmth does not undo that."


def unread_frost_basis(facts: UnreadFrostFacts, seen: Assessment, names: Names) -> str:
    """What is on record of a circuit of which nobody knows how cold it is."""
    craft_id, part = seen.subject.craft, seen.subject.part
    protection = names.protection(craft_id, part)
    why = "" if protection is None else protection.why.rstrip(". ")
    if facts.never_judged:
        return f"Not judged yet: no reading to judge by. On record: {why}."
    lead = f"{names.part(craft_id, part)}: {why}." if why else f"{names.part(craft_id, part)}:"
    space = names.space(seen.subject.space)
    return f"{lead} No air reading from {space} for two hours, so nobody knows how cold it is."
