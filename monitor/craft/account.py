"""The account of a craft's circuits: all that happened to them in turn, down to what stands."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from math import inf

from monitor.craft.circuit_events import CircuitEvent, Iced, events_until
from monitor.craft.contents import Contents
from monitor.craft.craft_stays import Shelter, Stay, stay_at
from monitor.craft.layup import LayupEntry, Liquid
from monitor.craft.mixture import GLYCOLS, Mix, mix_read, weaker_mix
from monitor.craft.profile import Profile, Shape
from monitor.craft.protection import Basis, Confidence, LayupState, Protection, plain_water
from monitor.craft.reasons import Because, Reason, worded
from monitor.wording import Wording

_TWO_GLYCOLS = "a mix of ethylene and propylene glycol, and water"
_LIQUIDS = {
    Liquid.PROPYLENE: "propylene glycol and water",
    Liquid.ETHYLENE: "ethylene glycol and water",
    Liquid.NOT_KNOWN: "glycol of a kind not on record, and water",
}
_SEASON_MONTH = 7  # a winter's lay-up counts until the next July; before that it is last season's


def season(at: datetime) -> int:
    """Year in whose July the lay-up season of that time began (northern winter)."""
    return at.year if at.month >= _SEASON_MONTH else at.year - 1


def protections(
    profile: Profile,
    entries: tuple[LayupEntry, ...],
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    at: datetime,
    iced: tuple[Iced, ...] = (),
    wording: Wording | None = None,
) -> dict[str, Protection]:
    """What each circuit can stand at one time, from everything on record until then.

    Parameters
    ----------
    profile : Profile
        The craft's type; every circuit of it gets a protection.
    entries : tuple of LayupEntry
        The whole lay-up record, in any order, corrections and all.
    stays : tuple of Stay
        Where the craft stood, in any order.
    shelters : mapping of str to Shelter
        The yard's spaces by id. A space that is not in it counts as cold.
    at : datetime
        The time to judge for; later entries do not count.
    iced : tuple of Iced, optional
        Times at which a circuit was computed to be below its ice point.
    wording : Wording, optional
        Zone and units of the sentences.

    Returns
    -------
    dict of str to Protection
        By circuit id, in the profile's order.
    """
    words = wording or Wording()
    held = _nothing_on_record(profile)
    for event in events_until(profile, entries, stays, shelters, at, iced):
        _apply(event, held)
    for contents in held.values():
        _forget_last_season(contents, season(at))
    stay = stay_at(stays, at)
    _note_heat(held.values(), shelters.get(stay.space) if stay else None)
    return {name: _protection_of(contents, words) for name, contents in held.items()}


def protections_around(
    profile: Profile,
    entries: tuple[LayupEntry, ...],
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    at: datetime,
    entry: str,
    iced: tuple[Iced, ...] = (),
    wording: Wording | None = None,
) -> tuple[dict[str, Protection], dict[str, Protection]]:
    """What each circuit could stand just before and just after a piece of work.

    That goes by its place in the order of the work, whatever hour was told; the other parameters
    are those of `protections`.

    Parameters
    ----------
    entry : str
        Id of the work; if it does not count at that time, all that does comes before it.
    """
    words = wording or Wording()
    held = _nothing_on_record(profile)
    before: dict[str, Protection] | None = None
    for event in events_until(profile, entries, stays, shelters, at, iced):
        found = event.entry == entry
        if found:
            before = {name: _protection_of(one, words) for name, one in held.items()}
        _apply(event, held)
        if found:
            break
    after = {name: _protection_of(one, words) for name, one in held.items()}
    return after if before is None else before, after


def _apply(event: CircuitEvent, held: dict[str, Contents]) -> None:
    of_event = season(event.at)
    for contents in held.values():
        _forget_last_season(contents, of_event)
    event.apply(held)


def _nothing_on_record(profile: Profile) -> dict[str, Contents]:
    """The account of every circuit before any entry, in the profile's order."""
    return {
        one.circuit.id: Contents(
            circuit=one.circuit.id,
            closed=one.shape is Shape.COOLANT_LOOP,
            drinking=one.circuit.drinking,
        )
        for one in profile.circuits
    }


def _note_heat(several: Iterable[Contents], shelter: Shelter | None) -> None:
    """Note that only heat keeps circuits of which nothing is known."""
    if shelter is None or not shelter.heated:
        return
    for contents in several:
        if contents.state is LayupState.UNKNOWN:
            contents.notes.append(Reason(because=Because.HEAT_KEEPS_IT, name=shelter.name))


def _forget_last_season(contents: Contents, present: int) -> None:
    treated = contents.treated_at
    if treated is None or season(treated) >= present:
        return
    if contents.state in {LayupState.PROVEN, LayupState.HEAT_ONLY}:
        why = Reason(because=Because.EARLIER_SEASON, at=treated)
        contents.judge_as_water(LayupState.UNKNOWN, why, treated)
    read = contents.warmest_read
    contents.forget_pours()
    if read is not None and season(read[1].at) >= present:
        contents.warmest_read = read


def _poison_reasons(contents: Contents) -> tuple[Reason, ...]:
    if contents.poison is None:
        return ()
    ethylene, unnamed = Because.ETHYLENE_IN_PLUMBING, Because.UNNAMED_IN_PLUMBING
    return (Reason(because=ethylene if contents.poison is Liquid.ETHYLENE else unnamed),)


def _protection_of(contents: Contents, words: Wording) -> Protection:
    """What an account adds up to."""
    doubt = () if contents.doubt is None else (contents.doubt,)
    reasons = tuple(
        dict.fromkeys((contents.why, *contents.notes, *doubt, *_poison_reasons(contents)))
    )
    why = "; ".join(dict.fromkeys(worded(one, words) for one in reasons))
    if not contents.proven:
        bare = plain_water(contents.circuit, contents.state, why)
        return replace(
            bare,
            reasons=reasons,
            blocked=contents.blocked,
            suspect_since=contents.suspect_since,
            inspected_at=contents.inspected_at,
            sampled_at=contents.sampled_at,
            went_in=contents.kinds,
            held_less=contents.held_less,
            poison=contents.poison,
        )
    mix = _mix_to_rely_on(contents)
    return Protection(
        circuit=contents.circuit,
        state=contents.state,
        ice_point_c=mix.ice_c if mix else -inf,
        burst_point_c=mix.burst_c if mix else -inf,
        basis=contents.basis,
        why=why,
        reasons=reasons,
        glycol=mix.liquid if mix else None,
        glycol_mass_fraction=mix.fraction if mix else None,
        liquid=_liquid_words(contents, mix) if mix else "none",
        confidence=contents.confidence if contents.doubt is None else Confidence.LOW,
        suspect_since=contents.suspect_since,
        inspected_at=contents.inspected_at,
        sampled_at=contents.sampled_at,
        went_in=contents.kinds,
        held_less=contents.held_less,
        poison=contents.poison,
    )


def _liquid_words(contents: Contents, mix: Mix) -> str:
    two = mix.liquid is Liquid.NOT_KNOWN and contents.kinds >= GLYCOLS
    return _TWO_GLYCOLS if two else _LIQUIDS[mix.liquid]


def _mix_to_rely_on(contents: Contents) -> Mix | None:
    """The mix; of one whose reading is in doubt, no burst point is measured."""
    if contents.mix is None or contents.doubt is None or contents.basis is not Basis.MEASURED:
        return contents.mix
    unsure = mix_read(contents.mix.liquid, contents.mix.ice_c, sure=False, label_burst_c=None)
    return weaker_mix(contents.mix, unsure)
