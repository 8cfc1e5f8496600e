"""Rules of contradiction: two things on record that cannot both be so."""

from collections.abc import Iterator

from monitor.craft.act_table import CLAIMS, is_mute
from monitor.craft.craft_stays import stay_at
from monitor.craft.layup import Act, Liquid, Outflow
from monitor.craft.mixture import ice_point_c, strength_of
from monitor.craft.reach import ran_engine
from monitor.craft.readings import READING_K, why_unreadable
from monitor.craft.reasons import Because, Reason, lack_worded
from monitor.craft.rules.case import Breach, Case, Rule
from monitor.wording import listed

_WRONG_SCALE_K = 10.0


def reading_beats_product(case: Case) -> Iterator[Breach]:
    """No sample is stronger than the product that went in."""
    for entry in case.entries:
        reading, product = entry.evidence.ice_point_c, entry.product
        strength = strength_of(product)
        if reading is None or product is None or strength is None:
            continue
        best = ice_point_c(strength, product.liquid)
        if reading >= best - READING_K:
            continue
        label = product.label_burst_c
        copied = label is not None and abs(label - reading) <= 1.0
        yield Breach(
            rule="burst-rating-as-ice-point" if copied else "reading-beats-product",
            why=(
                f"a reading of {case.words.temperature(reading)} on {case.words.day(entry.at)},"
                f" while {product.name} undiluted ices at {case.words.temperature(best)}"
                + ("; it is the label's burst rating, never an ice point" if copied else "")
            ),
            remedy="Zero the refractometer with water and read a fresh sample.",
            at=entry.at,
            entry=entry.id,
        )


def reading_not_readable(case: Case) -> Iterator[Breach]:
    """The scale must match the glycol, and ethanol blends cannot be read at all."""
    for entry in case.entries:
        refused = why_unreadable(entry.evidence, entry.product)
        if refused:
            fact = Reason(because=Because.EVIDENCE_LACKS, entry=entry)
            told = lack_worded(refused, fact, case.words)
            yield Breach(
                rule="reading-not-readable",
                why=f"on {case.words.day(entry.at)}: {told}; a wrong scale errs"
                f" {case.words.difference(_WRONG_SCALE_K)} or more (ASTM D3321)",
                remedy="Read a fresh sample on the right scale.",
                at=entry.at,
                entry=entry.id,
            )


def reading_without_flow(case: Case) -> Iterator[Breach]:
    """Nothing came out, yet a sample from the outlet was read."""
    for entry in case.entries:
        evidence = entry.evidence
        if evidence.outflow is Outflow.NONE and evidence.ice_point_c is not None:
            yield Breach(
                rule="reading-without-flow",
                why=(
                    f"on {case.words.day(entry.at)} nothing came out, yet a sample read"
                    f" {case.words.temperature(evidence.ice_point_c)}: it was read off the jug"
                ),
                remedy="Find the blockage; read what comes out of the outlet.",
                at=entry.at,
                entry=entry.id,
            )


def run_without_battery(case: Case) -> Iterator[Breach]:
    """An engine that ran had a battery."""
    out = None
    for entry in case.entries:
        if entry.act is Act.BATTERY_REMOVED:
            out = entry
        elif entry.act is Act.BATTERY_LEFT_ABOARD:
            out = None
        elif out is not None and ran_engine(entry, case.profile):
            yield Breach(
                rule="run-without-battery",
                part="battery",
                why=(
                    f"the engine ran on {case.words.day(entry.at)} while its battery is on record"
                    f" as taken out since {case.words.day(out.at)}"
                ),
                remedy="Enter where the battery is.",
                at=entry.at,
                entry=entry.id,
            )
            out = None


def claim_without_meaning(case: Case) -> Iterator[Breach]:
    """An act that says nothing of a circuit was entered on it, as if it had protected it."""
    for entry in case.entries:
        for name in entry.circuits if entry.act in CLAIMS else ():
            one = case.profile.find(name)
            if not is_mute(entry, one):
                continue
            ways = [each.way.value for each in one.treatments]
            yield Breach(
                rule="claim-without-meaning",
                part=name,
                why=(
                    f"{entry.act} on {case.words.day(entry.at)} says nothing of"
                    f" {case.name(name)}: water stays {one.circuit.where}"
                ),
                remedy=f"Treat it another way: {listed(ways, 'or')}.",
                at=entry.at,
                entry=entry.id,
            )


def finding_in_doubt(case: Case) -> Iterator[Breach]:
    """Work counts on a circuit about which the same entry tells a finding that is still open."""
    by_id = {one.id: one for one in case.entries}
    for name, held in case.protections(case.at).items():
        for reason in held.reasons:
            entry = reason.entry
            if reason.because is not Because.FINDING_DOUBTS or entry is None:
                continue
            if entry.id not in by_id:
                continue
            yield Breach(
                rule="finding-in-doubt",
                part=name,
                why=(
                    f"what {entry.act} on {case.words.day(entry.at)} shows of {case.name(name)} is"
                    f" doubtful: the same entry found “{reason.name}”"
                ),
                remedy=(
                    "Look or read once more, or settle the finding; if it is of another part,"
                    " correct the entry."
                ),
                at=entry.at,
                entry=entry.id,
            )


def warm_in_the_cold(case: Case) -> Iterator[Breach]:
    """Kept warm, in a space without heat."""
    for entry in case.entries:
        if entry.act is not Act.KEPT_WARM:
            continue
        stay = stay_at(case.record.stays, entry.at)
        shelter = case.shelters.get(stay.space) if stay else None
        if shelter is None or not shelter.heated:
            yield Breach(
                rule="warm-in-the-cold",
                why=(
                    f"left untreated on {case.words.day(entry.at)} to be kept warm, but"
                    f" {shelter.name if shelter else 'where it stands'} has no heat"
                ),
                remedy="Treat it, or move it into heat now.",
                at=entry.at,
                entry=entry.id,
            )


def ethylene_in_plumbing(case: Case) -> Iterator[Breach]:
    """Ethylene glycol is poison and has no place in water that people drink or wash with."""
    now = case.protections(case.at)
    for entry in case.entries:
        if entry.product is None or entry.product.liquid is not Liquid.ETHYLENE:
            continue
        for name in entry.circuits:
            if now[name].poison is Liquid.ETHYLENE:
                yield Breach(
                    rule="ethylene-in-plumbing",
                    part=name,
                    why=(
                        f"ethylene glycol went into {case.name(name)} on"
                        f" {case.words.day(entry.at)}: it is sweet, and kills pets and people"
                    ),
                    remedy="Tag the taps, flush it out into a drum, and use propylene glycol.",
                    at=entry.at,
                    entry=entry.id,
                )


RULES: tuple[Rule, ...] = (
    reading_beats_product,
    reading_not_readable,
    reading_without_flow,
    run_without_battery,
    claim_without_meaning,
    finding_in_doubt,
    warm_in_the_cold,
    ethylene_in_plumbing,
)
