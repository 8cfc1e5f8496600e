"""Judges damp: each bare metal surface by the water on it, and each space by a day of wet air."""

from collections.abc import Iterable, Mapping, Sequence
from math import inf

from monitor.craft.profile import Surface
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import SpaceAir
from monitor.judgement.damp.forecast import DewAhead
from monitor.judgement.damp.inputs import DampInputs, yard_surfaces
from monitor.judgement.damp.members import follow_wetting
from monitor.judgement.damp.metal import DRY_G_M2, SurfaceSeries, follow_surfaces
from monitor.judgement.damp.verdict import FILM_G_M2, DoorsShut, verdict_on
from monitor.judgement.damp.wet_day import judge_wet_day
from monitor.yard.air_facts import UnreadFacts
from monitor.yard.assessment import Assessment, Hazard, Severity, Standing, Subject
from monitor.yard.space import OUTDOORS


def judge_damp(
    inputs: DampInputs, craft: Mapping[str, Sequence[StoredCraft]]
) -> dict[str, list[Assessment]]:
    """Judge every surface of the craft that stand in a yard, and the humid air of its buildings.

    Parameters
    ----------
    inputs : DampInputs
    craft : mapping of sequence of StoredCraft by space

    Returns
    -------
    dict of list of Assessment by space
        One a surface. The metal follows the air with the long end of its time constant, because
        that keeps it cold, and so wet, for longest; what only that end wets must come to a film.
        And one of a building's air, where it hears humidity (see `judge_wet_day`).
    """
    judged: dict[str, list[Assessment]] = {space: [] for space in inputs.airs}
    surfaces = yard_surfaces(inputs, craft)
    for one, surface in surfaces.unknown:
        judged[one.space].append(_not_known(inputs.airs[one.space], one, surface))
    cases = surfaces.cases
    kinds = dict.fromkeys(kind for case in cases.values() for kind in (case.slow, case.usual))
    nights = {space: night for space, night in inputs.nights.items() if night is not None}
    courses = follow_surfaces(inputs.airs, nights, inputs.drives, list(kinds), inputs.coming)
    ahead = follow_wetting(list(cases.values()), courses, inputs)
    dews = {
        key: _dew_ahead(inputs.airs[case.slow.space], courses[case.slow], courses[case.usual])
        for key, case in cases.items()
    }
    shut = _doors_shut((cases[key].slow.space, dew) for key, dew in dews.items())
    verdicts = {
        key: verdict_on(
            case,
            (courses[case.slow], courses[case.usual]),
            wetting,
            None if (dew := dews[key]) is None else (dew, shut[case.slow.space]),
            inputs,
        )
        for (key, case), wetting in zip(cases.items(), ahead, strict=True)
    }
    for one, surface, key in surfaces.judged_by:
        judged[one.space].append(
            Assessment(
                subject=Subject(one.space, one.id, surface.id),
                hazard=Hazard.DAMP,
                at=inputs.airs[one.space].now,
                **verdicts[key],
            )
        )
    for space, air in inputs.airs.items():
        judged[space] += judge_wet_day(air)
    return judged


def _dew_ahead(air: SpaceAir, slow: SurfaceSeries, usual: SurfaceSeries) -> DewAhead | None:
    """First dew that a forecast brings at both ends of the lag; None under the open sky."""
    if slow.front is None or air.space.kind in OUTDOORS:
        return None
    if usual.front is None or usual.front.first_dew(FILM_G_M2, DRY_G_M2) is None:
        return None
    return slow.front.first_dew(FILM_G_M2, DRY_G_M2)


def _doors_shut(dews: Iterable[tuple[str, DewAhead | None]]) -> dict[str, DoorsShut]:
    """From when to when each space must be shut, so that no metal in it is wetted."""
    shut: dict[str, DoorsShut] = {}
    for space, dew in dews:
        if dew is not None:
            before = shut.get(space, DoorsShut(inf, 0.0))
            shut[space] = DoorsShut(
                min(before.from_h, dew.outdoors_h), max(before.until_h, dew.ends_h)
            )
    return shut


def _not_known(air: SpaceAir, craft: StoredCraft, surface: Surface) -> Assessment:
    # Water that a person saw in a bilge is to be pumped out whatever the air is.
    bilge_wet = craft.keeping.bilge_wet
    return Assessment(
        subject=Subject(craft.space, craft.id, surface.id),
        hazard=Hazard.DAMP,
        standing=Standing.NOT_KNOWN,
        at=air.now,
        facts=UnreadFacts(missing="humidity" if air.is_known else "air", bilge_wet=bilge_wet),
        calls_for_act=bilge_wet,
        severity=Severity.MINOR,
    )
