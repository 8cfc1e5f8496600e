"""The whole yard at one moment: calls the wings in a row, and collects their assessments."""

from collections.abc import Sequence
from datetime import datetime
from math import inf, isfinite

from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import Traces
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.air.sensor_disagreement import judge_disagreement
from monitor.judgement.air.sensor_doubt import judge_doubts, judge_off_forecast
from monitor.judgement.air.sensor_neighbours import judge_neighbours, judge_sun_by_forecast
from monitor.judgement.air.tonight import outdoor_air
from monitor.judgement.air.verdict import Dryness, judge_space
from monitor.judgement.battery.charge_by_record import batteries_before
from monitor.judgement.battery.judge import BatteryInputs, judge_batteries
from monitor.judgement.craft_job import is_led, plan_craft_acts
from monitor.judgement.crew_hours import CrewHours
from monitor.judgement.damp.hull import OPEN_HULL
from monitor.judgement.damp.inputs import DampInputs
from monitor.judgement.damp.judge import judge_damp
from monitor.judgement.damp.shut_doors import share_shut_hour, wet_metal_of
from monitor.judgement.damp.venting_and_mould import weigh_venting
from monitor.judgement.frost.judge import judge_frost
from monitor.judgement.frost.past_ice import past_ice_by_part
from monitor.judgement.grouped_judgements import GroupedJudgements, PartGroups, key_of
from monitor.judgement.inputs import PreparedInputs, YardInputs, prepare_inputs
from monitor.judgement.watch.judge import WatchInputs, judge_watch
from monitor.judgement.watch.silence import silent_channels_before
from monitor.judgement.work_order import order_acts
from monitor.yard.assessment import Assessment
from monitor.yard.space import Yard


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
    jobs = plan_craft_acts(exposed, craft, yard)
    return order_acts(judged, now, jobs, CrewHours.of_yard(yard, now))


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
        Air, frost and damp space by space, then batteries, then all else that is watched.

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
    inputs = at.inputs
    frost = judge_frost(inputs.frost, at.coolings, past_ice_by_part(earlier))
    damp = judge_damp(
        DampInputs(
            airs=inputs.airs,
            nights=inputs.nights,
            probes_c=inputs.probes_c,
            mould=inputs.mould,
            drives=inputs.frost.drives,
            coming=inputs.coming,
        ),
        inputs.craft_by_space,
    )
    batteries = judge_batteries(
        BatteryInputs(
            yard=inputs.yard,
            airs=inputs.airs,
            drives=inputs.frost.drives,
            traces=inputs.traces,
            aboard=inputs.craft_by_space,
            batteries=inputs.batteries,
            before=batteries_before(earlier),
        )
    )
    watch = judge_watch(
        WatchInputs(
            yard=inputs.yard,
            airs=inputs.airs,
            nights=inputs.nights,
            traces=inputs.sent,  # one that was moved is heard all the same
            craft=inputs.craft_by_space,
            silent_channels=silent_channels_before(earlier),
            now=inputs.now,
        )
    )
    judged: list[Assessment] = []
    for space in inputs.yard.spaces:
        surfaces = share_shut_hour(damp[space.id], space)
        judged += _judge_air(inputs, space.id, surfaces)
        judged += frost[space.id]
        judged += surfaces
    judged += [*batteries, *watch]
    if inputs.coming is not None:
        outside, coming = outdoor_air(inputs.airs), inputs.coming
        judged += judge_off_forecast(outside, coming.off_k, coming.source, inputs.now)
        judged += judge_sun_by_forecast(outside, coming.air_off_k, coming.source, inputs.yard)
    return judged


def _judge_air(inputs: YardInputs, space: str, damp: Sequence[Assessment]) -> list[Assessment]:
    """Judge a space's air, and its sensors where they contradict each other or lie off."""
    air = inputs.airs[space]
    metal_c = min((one.now_c for one in damp if isfinite(one.now_c)), default=inf)
    dryness = Dryness(
        venting=weigh_venting(
            air,
            outdoor_air(inputs.airs),
            metal_c,
            inputs.coming,
            wet_metal_of(damp, inputs.yard.space(space)),
        ),
        mould_index=inputs.mould[space, OPEN_HULL],
    )
    return [
        judge_space(air, inputs.nights[space], dryness),
        *judge_disagreement(air, inputs.yard),
        *judge_doubts(air, inputs.exchanged, inputs.now),
        *judge_neighbours(air, inputs.yard.sensors, inputs.traces, inputs.yard),
    ]
