"""The whole yard at one moment: readings and protection in, assessments out. The same for all."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from math import inf, isfinite

from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import SpaceAir, Traces
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.air.sensor_disagreement import judge_apart
from monitor.judgement.air.tonight import outdoors
from monitor.judgement.air.verdict import Dryness, judge_space
from monitor.judgement.battery.charge_by_record import batteries_before
from monitor.judgement.battery.judge import BatteryView, judge_batteries
from monitor.judgement.battery.overcharge import judge_charging
from monitor.judgement.craft_job import is_led, lead_jobs
from monitor.judgement.damp.judge import DampView, judge_damp
from monitor.judgement.damp.metal import OPEN_HULL
from monitor.judgement.damp.venting_and_mould import venting
from monitor.judgement.damp.wet_day import judge_wet_day
from monitor.judgement.frost.judge import judge_frost
from monitor.judgement.frost.past_ice import remembered
from monitor.judgement.groups import Alike, Found, key_of
from monitor.judgement.inputs import Followed, Moment, followed
from monitor.judgement.speech import Speech
from monitor.judgement.watch.open_matters import judge_record
from monitor.judgement.watch.power import judge_power
from monitor.judgement.watch.silence import judge_silence
from monitor.judgement.work_order import in_order
from monitor.yard.assessment import Assessment
from monitor.yard.space import Mount, Sensor, Yard


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
    judged = judgements(yard, craft, traces, now, earlier, memory)
    exposed: dict[str, dict[str, Assessment]] = {}
    for each in judged:
        if is_led(each):
            exposed.setdefault(each.subject.craft, {})[each.subject.part] = each
    return in_order(judged, now, lead_jobs(exposed, craft, Speech.of(yard, now)))


def look(
    yard: Yard, kinds: Alike, traces: Traces, now: datetime, earlier: Found, memory: Memory
) -> Found:
    """Judge a yard at one moment, and of the craft's parts that are alike only one.

    Parameters as for `judgements`, but for ``kinds``: those of all craft in the yard's care (see
    `kinds_of`), and ``earlier``: what the look before this one found.
    """
    (at,) = followed([Moment.of(yard, kinds.craft, traces, now, memory)])
    return found_at(at, kinds, earlier)


def found_at(at: Followed, kinds: Alike, earlier: Found) -> Found:
    """What a look finds at a moment that was followed, perhaps with others.

    Parameters
    ----------
    at : Followed
        Of the craft that stand for their kinds.
    kinds : Alike
    earlier : Found
        What the look before this one found.
    """
    judged = _verdicts(at, earlier.handed_on(kinds))
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
        Readings of the last 98 hours by sensor and channel (see `recent`); order does not
        matter, and later ones than ``now`` are not looked at.
    now : datetime
        Aware.
    earlier : sequence of Assessment
        The round before. An unproven circuit that was in ice, and a mix of which a third was,
        stay suspect by it, whatever the weather does.
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
    memory = Memory() if memory is None else memory
    (at,) = followed([Moment.of(yard, craft, traces, now, memory)])
    return _verdicts(at, earlier)


def _verdicts(at: Followed, earlier: Sequence[Assessment]) -> list[Assessment]:
    """All that is judged at one moment, in the light of the round before."""
    moment = at.moment
    yard, traces, speech = moment.yard, moment.traces, moment.speech
    airs, nights, here, mould = moment.airs, moment.nights, moment.here, moment.mould
    charged = batteries_before(earlier)
    maintainers = {
        each.craft: each
        for each in yard.sensors
        if each.mount is Mount.BATTERY and each.craft is not None
    }
    outside, coming = outdoors(airs), moment.coming
    frost = judge_frost(moment.frost, at.courses, remembered(earlier))
    damp = judge_damp(
        DampView(
            airs=airs,
            nights=nights,
            probes_c=moment.probes_c,
            mould=mould,
            speech=speech,
            coming=coming,
        ),
        here,
    )
    judged: list[Assessment] = []
    for space in yard.spaces:
        air, night = airs[space.id], nights[space.id]
        metal_c = min((each.now_c for each in damp[space.id] if isfinite(each.now_c)), default=inf)
        dryness = Dryness(
            venting=venting(air, outside, metal_c, coming),
            mould_index=mould[space.id, OPEN_HULL],
        )
        judged.append(judge_space(air, night, dryness))
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
            moment.batteries[space.id],
        )
        judged += [
            judge_silence(sensor, traces, air, night, moment.now)
            for sensor in yard.sensors
            if sensor.space == space.id
        ]
    judged += judge_signs(yard, airs, here, maintainers, traces, moment.now)
    return judged


def judge_signs(
    yard: Yard,
    airs: Mapping[str, SpaceAir],
    craft: Mapping[str, Sequence[StoredCraft]],
    maintainers: Mapping[str, Sensor],
    traces: Traces,
    now: datetime,
) -> list[Assessment]:
    """Judge power, records, maintainers that overcharge, and air that is damp or told two ways.

    Parameters
    ----------
    yard : Yard
    airs : mapping of SpaceAir by space
    craft : mapping of sequence of StoredCraft by space
        Those that stand in it.
    maintainers : mapping of Sensor by craft
    traces : mapping
        Readings by sensor and channel.
    now : datetime
    """
    judged = judge_power(yard, craft, traces, now)
    for space in yard.spaces:
        judged += judge_wet_day(airs[space.id])
        judged += judge_apart(airs[space.id], yard)
        here = craft.get(space.id, ())
        judged += judge_charging(here, maintainers, traces, now)
        for each in here:
            if each.unsettled:
                judged += judge_record(each, now)
    return judged
