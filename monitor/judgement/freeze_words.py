"""What is said of a circuit in the cold: what it can stand, and what is coming."""

from datetime import timedelta
from math import isfinite

from monitor.craft.protection import Basis, LayupState
from monitor.judgement.air import SpaceAir
from monitor.judgement.freeze_case import Case
from monitor.judgement.slush import COMPUTED_SHORT
from monitor.judgement.speech import Speech
from monitor.judgement.tonight import Tonight
from monitor.wording import FREEZING
from monitor.yard.assessment import Standing


def shared_basis(
    air: SpaceAir, night: Tonight, case: Case, standing: Standing, speech: Speech, sky_k: float
) -> str:
    """What it can stand and what is coming: the half of the basis that others share."""
    course, body = case.course, case.body
    water = case.protection.state is not LayupState.PROVEN
    computed = case.protection.basis is Basis.COMPUTED
    short = f", {COMPUTED_SHORT:.0%} less glycol allowed for" if computed else ""
    holds = (
        f"judged as plain water, ice at {FREEZING}"
        if water
        else f"first ice at {speech.temperature(body.ice_point_c)} ({case.protection.basis}{short})"
    )
    if case.mixed:
        holds += f", a third of it ice at {speech.temperature(body.locked_c)}"
    how = (
        "its own probe"
        if case.is_probed
        else f"computed with a lag of {body.lag_h:g} h behind the coldest air"
    )
    low_at = air.now + timedelta(hours=course.low_h)
    parts = [
        f"{holds}. Inside {speech.temperature(course.now_c)} now,"
        f" {speech.temperature(course.low_c)} at the lowest about {speech.clock(low_at)} ({how}).",
        f"{air.space.name} to {speech.temperature(night.low_c)}{_sky(sky_k, case, speech)}:"
        f" {night.how}.",
    ]
    if water and isfinite(night.zero_without_heat_h):
        parts.append(
            "It is safe only while the space is heated: without heat the air would reach"
            f" {FREEZING} in about {night.zero_without_heat_h:.0f} h."
        )
    if case.start_is_guessed:
        parts.append("How cold it was before the readings began is not known.")
    if standing is Standing.SUSPECT and case.mixed and case.iced.as_mix_at is not None:
        parts.append(
            f"A third of it or more was ice at {speech.clock(case.iced.as_mix_at)}; what stands in"
            " it now may be weaker than what was read."
        )
    elif standing is Standing.SUSPECT:
        parts.append("It has been through ice; warmth does not undo that.")
    return " ".join(parts)


def _sky(sky_k: float, case: Case, speech: Speech) -> str:
    """Why it may get colder inside than the air outside; empty under a roof, and by its probe."""
    if case.is_probed or sky_k <= 0.0:
        return ""
    return f", and a clear sky takes up to {speech.difference(sky_k)} more"
