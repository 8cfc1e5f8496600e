"""Work without antifreeze that shows what stands in a circuit: drained, oil, a look, heat."""

from monitor.craft.act_table import Deed, Verdict, deeds_of, verdict_on
from monitor.craft.circuit import Way
from monitor.craft.contents import Contents
from monitor.craft.craft_stays import Shelter
from monitor.craft.lacks import (
    lacks_of,
    reason_not_counting,
    stands_wrong,
    why_reading_refused,
)
from monitor.craft.layup import Act, LayupEntry, OilAppearance
from monitor.craft.pouring import Touched
from monitor.craft.profile import CircuitProfile
from monitor.craft.protection import Confidence, LayupState
from monitor.craft.reasons import Because, Lack, Reason
from monitor.craft.sampling import heed_reading, take_reading
from monitor.craft.work_order import earliest_time


def apply_draining(touched: Touched, entry: LayupEntry) -> None:
    """Apply draining or blowing out.

    A circuit that is proven already stays so, unless water was seen; but what stood in it may be
    gone, so that nothing poured later may count on it.
    """
    done, *found = deeds_of(entry)
    for one, contents in touched:
        lacks = lacks_of(one, contents, entry)
        if any(verdict_on(deed, one) is Verdict.UNDOES for deed in found):
            _found_wet(contents, entry, Because.WATER_FOUND)
        elif verdict_on(done, one) is Verdict.UNDOES:
            contents.let_water_in(
                LayupState.VOID, Reason(because=Because.COOLANT_DRAINED, entry=entry), entry.at
            )
        elif not lacks:
            contents.seen_dry(Reason(because=Because.SEEN_DRY, entry=entry), entry.at)
        elif not contents.proven:
            contents.judge_as_water(
                LayupState.UNPROVEN, reason_not_counting(one, contents, entry, lacks), entry.at
            )
        elif not contents.dry:
            contents.may_be_empty = True
        contents.drained = Deed.WATER_FOUND not in found and not contents.dry


def apply_standing(touched: Touched, entry: LayupEntry) -> None:
    """Apply how a craft was set down: some circuits empty themselves as they stand.

    Ice and what blocks a passage do not run out. A mix that was proven may have run out. Where
    somebody also looked, that is a look at the circuits that are named; of water that was seen and
    of which nobody says where, at all that should have emptied themselves.
    """
    for one, contents in touched:
        stands = one.treatment(Way.STAND) is not None
        runs_out = stands and entry.posture is one.posture
        if entry.evidence.dry is False and (stands or entry.circuits):
            _find_water(one, contents, entry)
        elif not runs_out:
            if entry.evidence.dry and entry.circuits:
                _look_dry(one, contents, entry)
        elif contents.proven:
            contents.may_be_empty = not contents.dry
        elif not contents.blocked and contents.suspect_since is None:
            why = Reason(because=Because.STOOD_DRY, entry=entry, stands=str(one.posture))
            contents.seen_dry(why, entry.at)
            contents.confidence = Confidence.HIGH if entry.evidence.dry else Confidence.MEDIUM


def tells_dry(entry: LayupEntry, one: CircuitProfile) -> bool:
    """Whether an entry says that a circuit is dry: somebody looked, or it empties itself so."""
    if entry.circuits and one.circuit.id not in entry.circuits:
        return False
    stands = one.treatment(Way.STAND) is not None and entry.posture is one.posture
    return entry.evidence.dry is True or (entry.act is Act.STOOD and stands)


def apply_oil_change(touched: Touched, entry: LayupEntry) -> None:
    """Apply an oil change: clear oil shows that no water was in the housing."""
    for one, contents in touched:
        _oil(one, contents, entry)


def end_suspicion(contents: Contents, entry: LayupEntry) -> None:
    """Let a look end the suspicion of all ice that surely came before it."""
    looked_at = earliest_time(entry)
    contents.unlooked_ice = tuple(at for at in contents.unlooked_ice if at >= looked_at)
    contents.inspected_at = max(looked_at, contents.inspected_at or looked_at)


def apply_inspection(touched: Touched, entry: LayupEntry) -> None:
    """Apply an inspection: a reading, a dry probe or clear oil counts.

    Seen dry and a sample read of one circuit: then there was something to draw a sample of.
    """
    for one, contents in touched:
        said = {deed: verdict_on(deed, one) for deed in deeds_of(entry)}
        shown = {deed for deed, verdict in said.items() if verdict is not Verdict.NOTHING}
        if Deed.WATER_FOUND in shown:
            _found_wet(contents, entry, Because.WATER_SEEN)
        elif Deed.SAMPLE_READ in shown:
            _read_sample(contents, entry)
        elif said.get(Deed.LOOKED_INSIDE) is Verdict.PROVES:
            _look_dry(one, contents, entry)
        elif shown & {Deed.OIL_CLEAR, Deed.OIL_WET}:
            _oil(one, contents, entry)
        elif Deed.LOOKED_INSIDE in shown:
            _look_dry(one, contents, entry)


def apply_kept_warm(touched: Touched, entry: LayupEntry, shelter: Shelter | None) -> None:
    """Apply the decision to rely on heat; worth nothing where there is no heat."""
    name = shelter.name if shelter is not None else "a place that is not on record"
    heated = shelter is not None and shelter.heated
    state = LayupState.HEAT_ONLY if heated else LayupState.UNPROVEN
    because = Because.KEPT_WARM if heated else Because.WARM_WITHOUT_HEAT
    for _, contents in touched:
        if not contents.proven:
            contents.judge_as_water(
                state, Reason(because=because, entry=entry, name=name), entry.at
            )


def _find_water(one: CircuitProfile, contents: Contents, entry: LayupEntry) -> None:
    if verdict_on(Deed.WATER_FOUND, one) is Verdict.UNDOES:
        _found_wet(contents, entry, Because.WATER_SEEN)


def _look_dry(one: CircuitProfile, contents: Contents, entry: LayupEntry) -> None:
    """Apply a look that found a circuit dry; it shows only what the eye reaches."""
    verdict = verdict_on(Deed.LOOKED_INSIDE, one)
    wrong = stands_wrong(one, contents)
    if verdict is Verdict.PROVES and not wrong:
        contents.seen_dry(Reason(because=Because.LOOKED_DRY, entry=entry), entry.at)
    elif contents.proven:
        return
    elif verdict is Verdict.PROVES:
        why = reason_not_counting(one, contents, entry, wrong)
        contents.judge_as_water(LayupState.UNPROVEN, why, entry.at)
    elif verdict is Verdict.HINTS:
        why = Reason(because=Because.LOOKED_ONLY, entry=entry)
        contents.judge_as_water(LayupState.UNPROVEN, why, entry.at)


def _found_wet(contents: Contents, entry: LayupEntry, because: Because) -> None:
    contents.let_water_in(LayupState.UNPROVEN, Reason(because=because, entry=entry), entry.at)


def _read_sample(contents: Contents, entry: LayupEntry) -> None:
    """Take a sample's reading; of a blocked passage it tells only what stands before the block."""
    refused = why_reading_refused(contents, entry)
    if not contents.blocked and not refused:
        take_reading(contents, entry, Because.SAMPLE_OF_LOOK)
        return
    heed_reading(contents, entry)
    if refused:
        why = Reason(because=Because.READING_REFUSED, entry=entry, lacks=(refused,))
        contents.notes.append(why)


def _oil(one: CircuitProfile, contents: Contents, entry: LayupEntry) -> None:
    look = entry.evidence.oil
    if look is OilAppearance.CLEAR:
        contents.seen_dry(Reason(because=Because.OIL_CLEAR, entry=entry), entry.at)
    elif look is not None:
        _found_wet(contents, entry, Because.OIL_WET)
    elif not contents.proven:
        lacks = (Lack.OIL_NOT_NOTED,)
        contents.judge_as_water(
            LayupState.UNPROVEN, reason_not_counting(one, contents, entry, lacks), entry.at
        )
