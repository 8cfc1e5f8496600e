"""Whatever has come in so far, and whatever is missing: a round judges, it never fails."""

from datetime import timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.clock import to_ms
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.judge import judge_yard
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.reading import Channel, Flag, Trace
from tests.judgement import scene
from tests.tried import tried

SPACES = (scene.BARN, scene.SHED, scene.RACK)
YARD = scene.yard_of(*SPACES)
NOW = scene.local(14, 15, 7)
CRAFT = [
    scene.stored(space, (scene.circuit(), scene.water()), craft_id=f"k{n}")
    for n, space in enumerate(SPACES)
]

# Of one sensor all within minutes, hours or days: a yard that starts knows no whole hour yet.
spans_h = st.sampled_from([0.1, 3.0, 90.0])
flags = st.sampled_from([Flag.PASS, Flag.NOT_EVALUATED, Flag.SUSPECT, Flag.FAIL])


@st.composite
def traces(draw):
    """For each sensor and channel nothing, one reading, or some, at any times of four days."""
    found = {}
    for space in SPACES:
        hours_ago = st.floats(0.0, draw(spans_h))
        for channel, low, high in (
            (Channel.TEMPERATURE, -40.0, 40.0),
            (Channel.HUMIDITY, 0.0, 100.0),
        ):
            told = draw(
                st.dictionaries(
                    hours_ago.map(lambda ago: to_ms(NOW) - round(ago * 3_600_000)),
                    st.tuples(st.floats(low, high), flags),
                    max_size=12,
                )
            )
            at = sorted(told)
            key = (f"air-{space.id}", channel)
            found[key] = Trace(
                sensor=key[0],
                channel=channel,
                at_ms=np.array(at, dtype=np.int64),
                value=np.array([told[one][0] for one in at], dtype=np.float64),
                flag=np.array([told[one][1] for one in at], dtype=np.int8),
            )
    return found


@settings(max_examples=tried(60), deadline=None)
@given(readings=traces(), later=traces())
def test_no_pattern_of_readings_stops_a_round(readings, later):
    memory = Memory()
    first = judge_yard(YARD, CRAFT, readings, NOW, (), memory)
    judged = judge_yard(YARD, CRAFT, later, NOW + timedelta(minutes=10), first, memory)
    for one in CRAFT:
        frost = scene.pick(judged, Hazard.FROST, "head", one.id)
        usable = later[f"air-{one.space}", Channel.TEMPERATURE].usable()
        if not usable.at_ms.size:
            assert frost.standing not in {Standing.HOLDING, Standing.THIN}
