"""How good is the judgement? Seeded winters against the truth that the simulator kept.

``python -m tests.bench.score --seeds 201 202 --craft 14`` prints one table over all seeds. The
judge gets the shop's records and the sensors' readings, an hour at a time, and nothing else.
"""

import argparse
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from monitor.yard.assessment import Hazard, Standing
from simulator.winter import Lived, Winter, live, make
from tests.bench.winters import Key, Said, lived_through

WARNED = frozenset({Standing.EXPOSED, Standing.ICING, Standing.SOLID})
SPELL = timedelta(hours=30)  # a cold spell is one: the noon between two nights does not end it
ENOUGH_H = 6.0  # of warning before damage
FROM_EVENING_AT = 19  # the hour whose forecast of the night is scored
_LEARNING_NIGHTS = 14
_WET_G_M2 = 5.0

Spell = tuple[datetime, datetime]


@dataclass(slots=True)
class Score:
    """Counts over all winters."""

    damage_h: list[float] = field(default_factory=list)  # warning before damage; nan: none
    ice_h: list[float] = field(default_factory=list)  # before first ice in unproven circuits
    alarms: int = 0
    borne_out: int = 0
    sweat: int = 0
    sweat_seen: int = 0
    sweat_false: int = 0
    heat_min: list[float] = field(default_factory=list)
    heat_false: int = 0
    battery: int = 0
    battery_seen: int = 0
    low_k: list[float] = field(default_factory=list)
    persistence_k: list[float] = field(default_factory=list)
    below_edge: list[bool] = field(default_factory=list)


def score(winter: Winter, lived: Lived, heard: dict[Key, list[Said]], total: Score) -> None:
    """Hold one winter's judgements against its truth."""
    records = {
        (craft["craft"], circuit["circuit"]): circuit
        for craft in winter.records["craft"]
        for circuit in craft["circuits"]
    }
    until = max(said[-1].at for said in heard.values())
    for craft in lived.truth["craft"]:
        for circuit in craft["circuits"]:
            key = (Hazard.FROST, craft["craft"], circuit["circuit"])
            record = records[craft["craft"], circuit["circuit"]]
            _frost(heard[key], circuit, record, lived.truth["evenings"], until, total)
        _sweat(heard, craft, until, total)
        _battery(heard, craft, until, total)
    for space in lived.truth["spaces"]:
        _air(heard[Hazard.AIR, space["space"], ""], space, winter, until, total)


def spells(said: Iterable[Said], standings: frozenset[Standing], gap: timedelta) -> list[Spell]:
    """When a subject had one of the standings; short pauses do not end a spell."""
    found: list[Spell] = []
    for each in said:
        if each.standing in standings:
            joined = found and each.at - found[-1][1] <= gap
            begun = found.pop()[0] if joined else each.at
            found.append((begun, each.at))
    return found


def _frost(
    said: Sequence[Said],
    truth: dict[str, Any],
    record: dict[str, Any],
    evenings: Sequence[str],
    until: datetime,
    total: Score,
) -> None:
    proven = record["state"] == "proven"
    told = spells(said, WARNED if proven else WARNED | {Standing.THIN}, SPELL)
    for field_name, leads in (("damaged_at", total.damage_h), ("first_ice_at", total.ice_h)):
        at = _time(truth[field_name])
        if at is None or at > until or (proven and field_name == "first_ice_at"):
            continue
        before = [begin for begin, end in told if begin <= at <= end + SPELL]
        leads.append(_hours(at - before[-1]) if before else np.nan)
    point_c = -np.inf if record["ice_point_c"] is None else record["ice_point_c"]
    nights = [datetime.fromisoformat(f"{day}T18:00:00+00:00") for day in evenings]
    for begin, end in spells(said, WARNED, SPELL):
        last = end + timedelta(hours=24)
        iced = any(
            _time(ice["from"]) <= last and (_time(ice["to"]) or until) >= begin
            for ice in truth["ice"]
        )
        lows = [
            low
            for night, low in zip(nights, truth["night_lows_c"], strict=True)
            if begin - timedelta(hours=24) <= night <= last
        ]
        total.alarms += 1
        total.borne_out += iced or min(lows, default=np.inf) <= point_c + 1.0


def _sweat(
    heard: dict[Key, list[Said]], craft: dict[str, Any], until: datetime, total: Score
) -> None:
    said = [each for key, each in heard.items() if key[:2] == (Hazard.DAMP, craft["craft"])]
    told = spells(said[0], frozenset({Standing.SWEATING, Standing.FROSTING}), timedelta(hours=3))
    slack = timedelta(hours=2)
    wet = [
        (_time(each["from"]), _time(each["to"]) or until, each["most_g_m2"])
        for each in craft["metal"]["wet"]
        if _time(each["from"]) < until
    ]
    for begin, end, most in wet:
        if most > _WET_G_M2:
            total.sweat += 1
            total.sweat_seen += any(a <= end and b >= begin - slack for a, b in told)
    total.sweat_false += sum(
        not any(a <= end + slack and b >= begin - slack for begin, end, _ in wet) for a, b in told
    )


def _battery(
    heard: dict[Key, list[Said]], craft: dict[str, Any], until: datetime, total: Score
) -> None:
    at = _time(craft["battery"] and craft["battery"]["first_ice_at"])
    if at is None or at > until:
        return
    told = spells(
        heard.get((Hazard.BATTERY, craft["craft"], "battery"), ()),
        frozenset({Standing.FREEZING}),
        SPELL,
    )
    total.battery += 1
    total.battery_seen += any(begin <= at <= end + SPELL for begin, end in told)


def _air(
    said: Sequence[Said], space: dict[str, Any], winter: Winter, until: datetime, total: Score
) -> None:
    nights = space["nights"]
    for before, night in zip(
        nights[_LEARNING_NIGHTS:-2], nights[_LEARNING_NIGHTS + 1 :], strict=False
    ):
        at = datetime.fromisoformat(f"{night['evening']}T{FROM_EVENING_AT}:00")
        at = at.replace(tzinfo=winter.start.tzinfo)
        near = [each for each in said if abs(each.at - at) < timedelta(minutes=31)]
        if near and "low_expected_c" in near[0].figures:
            total.low_k.append(near[0].figures["low_expected_c"] - night["low_c"])
            total.persistence_k.append(before["low_c"] - night["low_c"])
            total.below_edge.append(night["low_c"] < near[0].low_c)
    told = spells(said, frozenset({Standing.FALLING}), timedelta(hours=2))
    lost = [(_time(each["from"]), _time(each["to"])) for each in space["heater_lost"]]
    for begin, end in lost:
        if begin < until:
            seen = [a for a, b in told if b >= begin and a <= end]
            total.heat_min.append(60.0 * _hours(max(seen[0], begin) - begin) if seen else np.nan)
    warm = timedelta(hours=12)  # a shop may stay cold for half a day after the heat is back
    total.heat_false += sum(not any(a <= e + warm and b >= s for s, e in lost) for a, b in told)


def _time(text: str | None) -> Any:
    return None if text is None else datetime.fromisoformat(text)


def _hours(span: timedelta) -> float:
    return span.total_seconds() / 3600.0


def _share(part: float, whole: float) -> str:
    return f"{100.0 * part / whole:.0f} % of {whole:.0f}" if whole else "none happened"


def table(total: Score, craft_weeks: float) -> str:
    """The score in words and numbers."""
    damage, ice = np.array(total.damage_h), np.array(total.ice_h)
    heat, low = np.array(total.heat_min), np.abs(total.low_k)
    warned = ice[np.isfinite(ice)]
    rows = [
        ("damage warned of six hours before", _share((damage >= ENOUGH_H).sum(), damage.size)),
        ("damage without any warning", str(int(np.isnan(damage).sum()))),
        ("first ice of unproven circuits warned of", _share(warned.size, ice.size)),
        (
            "  median and worst lead [h]",
            f"{np.median(warned):.0f}, {warned.min():.1f}" if warned.size else "-",
        ),
        ("frost alarms borne out by ice, or within 1 K", _share(total.borne_out, total.alarms)),
        ("frost alarms a craft and week", f"{total.alarms / craft_weeks:.2f}"),
        ("sweating noticed", _share(total.sweat_seen, total.sweat)),
        ("sweating said without any wet metal", str(total.sweat_false)),
        ("battery freezing warned of", _share(total.battery_seen, total.battery)),
        ("heater loss noticed", _share(np.isfinite(heat).sum(), heat.size)),
        (
            "  median, worst [min]; rounds are hourly",
            f"{np.nanmedian(heat):.0f}, {np.nanmax(heat):.0f}" if np.isfinite(heat).any() else "-",
        ),
        ("heat said lost while it was not", str(total.heat_false)),
        (
            "tonight's low at 19:00, mean absolute error [K]",
            f"{low.mean():.2f}" if low.size else "-",
        ),
        (
            "  last night's low instead [K]",
            f"{np.abs(total.persistence_k).mean():.2f}" if low.size else "-",
        ),
        ("  nights below the cold edge; 10 % are meant", _share(sum(total.below_edge), low.size)),
    ]
    return "\n".join(f"{name:48} {value}" for name, value in rows)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, nargs="+", default=[201, 202])
    parser.add_argument("--craft", type=int, default=14)
    parser.add_argument("--days", type=float, help="only the first days of each winter")
    parser.add_argument("--step", type=float, default=60.0, help="of the simulation [s]")
    chosen = parser.parse_args()
    total = Score()
    weeks = 0.0
    for seed in chosen.seeds:
        winter = make(seed, craft=chosen.craft)
        (lived,) = live([winter], step_s=chosen.step)
        heard = lived_through(winter, lived, chosen.days)
        score(winter, lived, heard, total)
        air = next(said for key, said in heard.items() if key[0] is Hazard.AIR)
        weeks += chosen.craft * len(air) / 168.0
        print(f"seed {seed}: {len(air)} rounds", file=sys.stderr)
    print(f"seeds {' '.join(map(str, chosen.seeds))}, {chosen.craft} craft each")
    print(table(total, weeks))
    return 0


if __name__ == "__main__":
    sys.exit(main())
