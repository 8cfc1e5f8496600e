"""The whole yard at one moment: calls the wings in a row, and collects their assessments."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from math import inf, isfinite

from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import SpaceAir, Traces
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.air.sensor_disagreement import judge_disagreement
from monitor.judgement.air.sensor_doubt import judge_doubts, judge_off_forecast
from monitor.judgement.air.tonight import outdoor_air
from monitor.judgement.air.verdict import Dryness, judge_space
from monitor.judgement.battery.charge_by_record import batteries_before
from monitor.judgement.battery.judge import BatteryView, judge_batteries
from monitor.judgement.battery.overcharge import judge_charging
from monitor.judgement.craft_job import is_led, lead_jobs
from monitor.judgement.damp.judge import DampView, judge_damp
from monitor.judgement.damp.metal import OPEN_HULL
from monitor.judgement.damp.venting_and_mould import venting_advice
from monitor.judgement.damp.wet_day import judge_wet_day
from monitor.judgement.frost.judge import judge_frost
from monitor.judgement.frost.past_ice import past_ice_by_part
from monitor.judgement.groups import GroupedJudgements, PartGroups, key_of
from monitor.judgement.inputs import PreparedInputs, YardInputs, prepare_inputs
from monitor.judgement.speech import Speech
from monitor.judgement.watch.open_matters import judge_record
from monitor.judgement.watch.power import judge_power
from monitor.judgement.watch.silence import judge_silence
from monitor.judgement.work_order import order_acts
from monitor.yard.assessment import Assessment
from monitor.yard.space import Mount, Sensor, Yard


def judge_yard(
    yard: Yard,
    craft: Sequence[StoredCraft],
    traces: Traces,
    now: datetime,
    earlier: Sequence[Assessment] = (),
    memory: Memory | None = None,
) -> list[Assessment]:
    """Judge a yard at one moment, craft by craft, and number the acts in the order of work.

    Parameters as for `judge_unordered`.
    """
    judged = judge_unordered(yard, craft, traces, now, earlier, memory)
    exposed: dict[str, dict[str, Assessment]] = {}
    for each in judged:
        if is_led(each):
            exposed.setdefault(each.subject.craft, {})[each.subject.part] = each
    return order_acts(judged, now, lead_jobs(exposed, craft, Speech.for_yard(yard, now)))


def judge_groups(
    yard: Yard,
    kinds: PartGroups,
    traces: Traces,
    now: datetime,
    earlier: GroupedJudgements,
    memory: Memory,
) -> GroupedJudgements:
    """Judge the yard, one representative for each group of identical parts.

    Parameters as for `judge_unordered`, but for ``kinds``: the groups of all craft in the yard's
    care (see `part_groups`), and ``earlier``: the judgements of the round before.
    """
    (at,) = prepare_inputs([YardInputs.gather(yard, kinds.craft, traces, now, memory)])
    return judge_prepared(at, kinds, earlier)


def judge_prepared(
    at: PreparedInputs, kinds: PartGroups, earlier: GroupedJudgements
) -> GroupedJudgements:
    """Judge a moment whose cooling curves are already computed.

    Parameters
    ----------
    at : PreparedInputs
        Of one representative for each group.
    kinds : PartGroups
    earlier : GroupedJudgements
        Of the round before.
    """
    judged = _judge_all(at, earlier.for_next_round(kinds))
    return GroupedJudgements({key_of(each): each for each in judged}, kinds)


def judge_unordered(
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
    (at,) = prepare_inputs([YardInputs.gather(yard, craft, traces, now, memory)])
    return _judge_all(at, earlier)


def _judge_all(at: PreparedInputs, earlier: Sequence[Assessment]) -> list[Assessment]:
    """Call each wing for one moment; ``earlier`` is the round before."""
    moment = at.moment
    yard, traces, speech = moment.yard, moment.traces, moment.speech
    airs, nights, here, mould = moment.airs, moment.nights, moment.here, moment.mould
    charged = batteries_before(earlier)
    maintainers = {
        each.craft: each
        for each in yard.sensors
        if each.mount is Mount.BATTERY and each.craft is not None
    }
    outside, coming = outdoor_air(airs), moment.coming
    frost = judge_frost(moment.frost, at.courses, past_ice_by_part(earlier))
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
            venting=venting_advice(air, outside, metal_c, coming),
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
    if coming is not None:
        judged += judge_off_forecast(outside, coming.off_k, coming.source, moment.now)
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
        judged += judge_disagreement(airs[space.id], yard)
        judged += judge_doubts(airs, space.id, now)
        here = craft.get(space.id, ())
        judged += judge_charging(here, maintainers, traces, now)
        for each in here:
            if each.unsettled:
                judged += judge_record(each, now)
    return judged
