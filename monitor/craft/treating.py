"""Work without antifreeze that shows what stands in a circuit: drained, oil, a look, heat."""

from monitor.craft.act_table import Deed, Verdict, deeds_of, verdict_on
from monitor.craft.circuit import Way
from monitor.craft.contents import Contents
from monitor.craft.kept import Shelter
from monitor.craft.lacks import (
    lacks_of,
    reason_not_counting,
    stands_wrong,
    why_reading_refused,
)
from monitor.craft.layup import LayupEntry, OilLook
from monitor.craft.pouring import Touched
from monitor.craft.profile import CircuitProfile
from monitor.craft.protection import Confidence, LayupState
from monitor.craft.reasons import Because, Lack, Reason
from monitor.craft.sampling import heed_reading, take_reading


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

    Ice and what blocks a passage do not run out. A mix that was proven may have run out.
    """
    for one, contents in touched:
        if one.treatment(Way.STAND) is None or entry.posture is not one.posture:
            continue
        if contents.proven:
            contents.may_be_empty = not contents.dry
        elif not contents.blocked and contents.suspect_since is None:
            why = Reason(because=Because.STOOD_DRY, entry=entry, stands=str(one.posture))
            contents.seen_dry(why, entry.at)
            contents.confidence = Confidence.MEDIUM


def apply_oil_change(touched: Touched, entry: LayupEntry) -> None:
    """Apply an oil change: clear oil shows that no water was in the housing."""
    for one, contents in touched:
        _oil(one, contents, entry)


def apply_inspection(touched: Touched, entry: LayupEntry) -> None:
    """Apply an inspection: a reading, a dry probe or clear oil counts."""
    for one, contents in touched:
        said = {deed: verdict_on(deed, one) for deed in deeds_of(entry)}
        shown = {deed for deed, verdict in said.items() if verdict is not Verdict.NOTHING}
        dry = said.get(Deed.LOOKED_INSIDE) is Verdict.PROVES
        if Deed.WATER_FOUND in shown:
            _found_wet(contents, entry, Because.WATER_SEEN)
        elif dry and not (wrong := stands_wrong(one, contents)):
            contents.seen_dry(Reason(because=Because.LOOKED_DRY, entry=entry), entry.at)
        elif Deed.SAMPLE_READ in shown:
            _read_sample(contents, entry)
        elif dry and not contents.proven:
            contents.judge_as_water(
                LayupState.UNPROVEN, reason_not_counting(one, contents, entry, wrong), entry.at
            )
        elif shown & {Deed.OIL_CLEAR, Deed.OIL_WET}:
            _oil(one, contents, entry)
        elif Deed.LOOKED_INSIDE in shown and not contents.proven:
            contents.judge_as_water(
                LayupState.UNPROVEN, Reason(because=Because.LOOKED_ONLY, entry=entry), entry.at
            )


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
    if look is OilLook.CLEAR:
        contents.seen_dry(Reason(because=Because.OIL_CLEAR, entry=entry), entry.at)
    elif look is not None:
        _found_wet(contents, entry, Because.OIL_WET)
    elif not contents.proven:
        lacks = (Lack.OIL_NOT_NOTED,)
        contents.judge_as_water(
            LayupState.UNPROVEN, reason_not_counting(one, contents, entry, lacks), entry.at
        )
