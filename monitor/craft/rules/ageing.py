"""Rules of ageing: what was good once and no longer is."""

from collections.abc import Iterator
from datetime import timedelta

from monitor.craft.account import season
from monitor.craft.layup import FOGGING, Act, LayupEntry
from monitor.craft.reach import reached
from monitor.craft.readings import ZERO_KEEPS
from monitor.craft.rules.case import Breach, Case, Rule
from monitor.craft.work_order import earliest_time
from monitor.wording import listed_first

# Common practice, no source: makers' labels say one to two years, six months and a month or two.
_STABILISER = timedelta(days=365)
_FOG = timedelta(days=180)
_DESICCANT = timedelta(days=60)


def stabiliser_old(case: Case) -> Iterator[Breach]:
    """Treated fuel keeps about a year."""
    yield from _too_old(
        case,
        frozenset({Act.FUEL_STABILISED}),
        _STABILISER,
        "stabiliser-old",
        "stabilised fuel keeps about a year",
        "Test a sample; drain it if it smells sour or looks dark.",
    )


def fog_old(case: Case) -> Iterator[Breach]:
    """A fog film thins within half a year."""
    yield from _too_old(
        case,
        FOGGING,
        _FOG,
        "fog-old",
        "the oil film runs off the walls within half a year",
        "Fog it again through the plug holes, ignition off.",
    )


def desiccant_old(case: Case) -> Iterator[Breach]:
    """A bag of desiccant is full after a month or two."""
    yield from _too_old(
        case,
        frozenset({Act.DESICCANT_PLACED}),
        _DESICCANT,
        "desiccant-old",
        "desiccant is full after a month or two, and then keeps the damp in",
        "Dry or change it.",
    )


def _read_of(case: Case, entry: LayupEntry) -> str:
    """Where a sample was drawn, so that two of one day are told apart; of many the first."""
    names = [case.name(one) for one in entry.circuits]
    return f", of {listed_first(names, 1)}," if names else ""


def refractometer_unchecked(case: Case) -> Iterator[Breach]:
    """A reading is as good as the last zero with water."""
    for entry in case.entries:
        if entry.evidence.ice_point_c is None:
            continue
        zeroed = entry.evidence.zeroed_on
        day = entry.at.astimezone(case.words.zone).date()
        if zeroed is not None and timedelta(0) <= day - zeroed <= ZERO_KEEPS:
            continue
        known = (
            "no check on record" if zeroed is None else f"the last check on {zeroed.isoformat()}"
        )
        yield Breach(
            rule="refractometer-unchecked",
            why=(
                f"the reading of {case.words.day(entry.at)}{_read_of(case, entry)} rests on a"
                f" refractometer whose zero has {known}"
            ),
            remedy="Set it to zero with water and read again.",
            at=entry.at,
            entry=entry.id,
        )


def last_season(case: Case) -> Iterator[Breach]:
    """What was done before last summer counts for nothing until it is read again."""
    now = season(case.at)
    fresh = {name for entry in case.entries for name in reached(entry, case.profile)}
    old = {
        name: entry
        for entry in case.record.standing(case.at)
        if season(entry.at) < now
        for name in reached(entry, case.profile)
    }
    for name, entry in old.items():
        if name not in fresh:
            yield Breach(
                rule="last-season",
                part=name,
                why=(
                    f"{case.name(name)} was last treated on {case.words.day(entry.at)}, in an"
                    " earlier season"
                ),
                remedy="Draw a sample and read it, or treat it again.",
                at=entry.at,
                entry=entry.id,
            )


def reading_stale(case: Case) -> Iterator[Breach]:
    """A mix that was part ice may have come apart: up to 7 % of glycol, in a published test."""
    for one in case.record.iced:
        if one.at > case.at or one.circuit not in case.profile.circuit_ids:
            continue
        read_again = any(
            earliest_time(entry) > one.at and one.circuit in reached(entry, case.profile)
            for entry in case.entries
        )
        if not read_again:
            yield Breach(
                rule="reading-stale",
                part=one.circuit,
                why=(
                    f"{case.name(one.circuit)} was below its ice point on"
                    f" {case.words.day(one.at)}, and nobody has looked since"
                ),
                remedy="Once thawed, inspect it and read a sample; start nothing before.",
                at=one.at,
            )


def _too_old(
    case: Case,
    acts: frozenset[Act],
    keeps: timedelta,
    rule: str,
    reason: str,
    remedy: str,
) -> Iterator[Breach]:
    """Last of these acts, of whatever season, is longer ago than it keeps."""
    done = [one for one in case.record.standing(case.at) if one.act in acts]
    if done and case.at - done[-1].at > keeps:
        yield Breach(
            rule=rule,
            why=f"last on {case.words.day(done[-1].at)}; {reason}",
            remedy=remedy,
            at=done[-1].at,
            entry=done[-1].id,
        )


RULES: tuple[Rule, ...] = (
    stabiliser_old,
    fog_old,
    desiccant_old,
    refractometer_unchecked,
    last_season,
    reading_stale,
)
