"""Readings of samples: what one shows of a circuit, whether it counts or only speaks against it."""

from dataclasses import replace

from monitor.craft.contents import SURENESS, Contents
from monitor.craft.lacks import glycol_in
from monitor.craft.layup import LayupEntry
from monitor.craft.mixture import mix_read
from monitor.craft.protection import Basis, Confidence
from monitor.craft.readings import READING_K, confidence_of, ice_read_c
from monitor.craft.reasons import Because, Reason
from monitor.craft.work_order import earliest_time


def take_reading(contents: Contents, entry: LayupEntry, because: Because) -> None:
    """Take the ice point from a reading that counts; ``entry`` must hold one."""
    evidence, product = entry.evidence, entry.product
    if evidence.ice_point_c is None:
        raise ValueError(f"entry {entry.id}: it holds no reading")
    liquid = glycol_in(contents, entry)
    confidence = confidence_of(evidence, liquid, entry.at)
    read_c = ice_read_c(evidence, liquid)
    ice_c, warmer = _warmest_read(contents, entry, read_c)
    if ice_c - read_c > READING_K:
        confidence = Confidence.LOW
    elif contents.closed:
        confidence = min(confidence, Confidence.MEDIUM, key=SURENESS.index)
    sampled_at = earliest_time(entry)
    contents.sampled_at = max(sampled_at, contents.sampled_at or sampled_at)
    contents.filled = True
    contents.pours = [
        replace(one, sampled_since=one.accounts[-1] is not entry) for one in contents.pours
    ]
    contents.note_kinds(frozenset({liquid}))
    contents.hold_mix(
        mix_read(
            liquid,
            ice_c,
            sure=confidence is Confidence.HIGH,
            label_burst_c=product.label_burst_c if product else None,
        ),
        Basis.MEASURED,
        confidence,
        Reason(because=because, entry=entry),
        entry.at,
    )
    if read_c > evidence.ice_point_c:
        contents.notes.append(Reason(because=Because.GLYCOL_UNNAMED, entry=entry, ice_c=read_c))
    if warmer is not None:
        coolant, other = Because.COOLANT_READ_WARMER, Because.READ_WARMER_BEFORE
        told = Reason(because=coolant if contents.closed else other, entry=warmer)
        contents.notes.append(told)


def _warmest_read(
    contents: Contents, entry: LayupEntry, read_c: float
) -> tuple[float, LayupEntry | None]:
    """Ice point [°C] that counts after a reading, and the earlier entry that it is from, if it is.

    Nothing gets stronger by standing: of readings with no pour between them the warmer is true.
    """
    before = contents.warmest_read
    contents.note_reading(read_c, entry)
    return (read_c, None) if before is None or before[0] <= read_c else before


def heed_reading(contents: Contents, entry: LayupEntry) -> None:
    """Let a reading that did not count still speak against what the record makes of it."""
    liquid = glycol_in(contents, entry)
    if entry.evidence.ice_point_c is None:
        return
    read_c = ice_read_c(entry.evidence, liquid)
    contents.note_reading(read_c, entry)
    contents.no_better_than(
        mix_read(liquid, read_c, sure=False, label_burst_c=None),
        Reason(because=Because.READ_THIN, entry=entry),
    )
