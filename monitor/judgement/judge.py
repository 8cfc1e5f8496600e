"""The whole yard at one moment: readings and protection in, assessments out. The same for all."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from math import inf, isfinite

import numpy as np

from monitor.craft.stored import BatteryPlace, StoredCraft
from monitor.judgement.air import SpaceAir, Traces, on_grid, space_airs
from monitor.judgement.alike import Alike, Found, key_of
from monitor.judgement.battery import BatteryView, judge_batteries
from monitor.judgement.battery_memory import remembered as batteries_before
from monitor.judgement.bay import judge_space
from monitor.judgement.damp import DampView, judge_damp
from monitor.judgement.dryness import Dryness, mould_indices, venting
from monitor.judgement.freeze import FrostView, judge_frost
from monitor.judgement.freeze_memory import Part, remembered
from monitor.judgement.memory import Memory
from monitor.judgement.metal import OPEN_HULL, Hull
from monitor.judgement.order import in_order
from monitor.judgement.signs import judge_signs
from monitor.judgement.silence import judge_silence
from monitor.judgement.speech import Speech
from monitor.judgement.tonight import outdoors, tonights
from monitor.yard.assessment import Assessment
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Yard


def judge(
    yard: Yard,
    craft: Sequence[StoredCraft],
    traces: Traces,
    now: datetime,
    earlier: Sequence[Assessment] = (),
    memory: Memory | None = None,
) -> list[Assessment]:
    """Judge a yard at one moment, craft by craft, and number the acts that this calls for.

    Parameters as for `judgements`.
    """
    return in_order(judgements(yard, craft, traces, now, earlier, memory), now)


def look(
    yard: Yard, kinds: Alike, traces: Traces, now: datetime, earlier: Found, memory: Memory
) -> Found:
    """Judge a yard at one moment, and of the craft's parts that are alike only one.

    Parameters as for `judgements`, but for ``kinds``: those of all craft in the yard's care (see
    `kinds_of`), and ``earlier``: what the look before this one found.
    """
    judged = judgements(yard, kinds.craft, traces, now, earlier.handed_on(kinds), memory)
    return Found({key_of(each): each for each in judged}, kinds)


def judgements(
    yard: Yard,
    craft: Sequence[StoredCraft],
    traces: Traces,
    now: datetime,
    earlier: Sequence[Assessment] = (),
    memory: Memory | None = None,
) -> list[Assessment]:
    """Judge every space, circuit, surface, battery and sensor of the yard.

    Parameters
    ----------
    yard : Yard
    craft : sequence of StoredCraft
        Those in the yard's care at ``now``.
    traces : mapping
        Readings of the last 96 hours by sensor and channel; order does not matter, and later
        ones than ``now`` are not looked at.
    now : datetime
        Aware.
    earlier : sequence of Assessment
        The round before. An unproven circuit that was in ice stays suspect by it, whatever
        the weather does.

    memory : Memory, optional
        Of the weeks before; takes in what these readings add. Without one, tonight's low rests
        on the nights within the readings alone.

    Returns
    -------
    list of Assessment
        Space by space, in the yard's order.

    Notes
    -----
    The work that counts grows with spaces and with distinct time constants, circuits of one
    make and one protection being one; only the sentences are made for each craft.
    """
    speech = Speech.of(yard, now)
    here = defaultdict(list)
    batteries = defaultdict(list)
    for each in craft:
        here[each.space].append(each)
        if each.battery is not None and each.battery.place is not BatteryPlace.AWAY:
            batteries[each.battery.space or each.space].append(each)
    before, charged = remembered(earlier), batteries_before(earlier, speech)
    maintainers = {
        each.craft: each
        for each in yard.sensors
        if each.mount is Mount.BATTERY and each.craft is not None
    }
    memory = Memory() if memory is None else memory
    airs = space_airs(yard.spaces, yard.sensors, traces, now)
    for air in airs.values():
        memory.learn(air)
    nights = tonights(airs, yard, memory)
    outside = outdoors(airs)
    mould = _mould(memory, now, craft)
    probes = {space_id: _probes(yard, air, traces) for space_id, air in airs.items()}
    frost = judge_frost(
        {
            space_id: FrostView(
                air=air,
                night=nights[space_id],
                speech=speech,
                probes_c=probes[space_id],
                before=before,
            )
            for space_id, air in airs.items()
        },
        here,
    )
    coming = memory.outlook.coming(now, outside)
    damp = judge_damp(
        DampView(
            airs=airs, nights=nights, probes_c=probes, mould=mould, speech=speech, coming=coming
        ),
        here,
    )
    judged: list[Assessment] = []
    for space in yard.spaces:
        air, night = airs[space.id], nights[space.id]
        metal_c = min((each.now_c for each in damp[space.id] if isfinite(each.now_c)), default=inf)
        dryness = Dryness(
            venting=venting(air, outside, metal_c, coming, speech),
            mould_index=mould[space.id, OPEN_HULL],
        )
        judged.append(judge_space(air, night, dryness, speech))
        judged += frost[space.id]
        judged += damp[space.id]
        judged += judge_batteries(
            BatteryView(
                air=air,
                night=night,
                traces=traces,
                sensors=maintainers,
                speech=speech,
                airs=airs,
                before=charged,
            ),
            batteries[space.id],
        )
        judged += [
            judge_silence(sensor, traces, air, night, speech)
            for sensor in yard.sensors
            if sensor.space == space.id
        ]
    judged += judge_signs(yard, airs, here, maintainers, traces, speech)
    return judged


def _probes(yard: Yard, air: SpaceAir, traces: Traces) -> dict[Part, float]:
    """What probes on craft of this space read now, by craft and circuit or surface."""
    found = {}
    for sensor in yard.sensors:
        if sensor.space != air.space.id or sensor.mount is not Mount.SURFACE:
            continue
        if sensor.craft is None or sensor.circuit is None:
            continue
        reads = on_grid(traces.get((sensor.name, Channel.TEMPERATURE)), air.hours, air.now)
        if np.isfinite(reads[-1]):
            found[sensor.craft, sensor.circuit] = float(reads[-1])
    return found


def _mould(
    memory: Memory, now: datetime, craft: Sequence[StoredCraft]
) -> dict[tuple[str, Hull], float]:
    """Mould index of every space and of what is kept damper in it; once a day: it takes weeks."""
    hulls = frozenset(
        (each.space, hull)
        for each in craft
        if each.surfaces and (hull := Hull.of(each.keeping)) is not OPEN_HULL
    )
    known_days = sum(past.at_ms.size for past in memory.spaces.values()) // (
        24 * len(memory.spaces)
    )
    # A yard that starts learns its past round by round.
    key = ("mould", now.date(), known_days, hulls)
    known = memory.worked_out.get(key)
    if not isinstance(known, dict):
        known = mould_indices(memory.spaces, hulls)
        memory.worked_out[key] = known
    return known
