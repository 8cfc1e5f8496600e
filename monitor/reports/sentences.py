"""Whole sentences that pages, mails and the command line share: the state, and one judgement."""

import math
from datetime import timedelta

from monitor.craft.stored import StoredCraft
from monitor.reports.picture import QUIET, Picture, Task
from monitor.reports.wording import standing_words
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Hazard, Standing

OLD_AFTER = timedelta(minutes=15)  # a round is due every minute
_BY_CRAFT = frozenset({Hazard.FROST, Hazard.BATTERY})


def state_of_things(picture: Picture, wording: Wording) -> str:
    """Say in a sentence or two how the yard stands and what comes first."""
    if picture.judged_at is None:
        return (
            "Nothing has been judged yet: no usable reading has come in. Until one does, take"
            " nothing as safe."
        )
    total = len(picture.craft)
    if total == 0:
        return "No craft is on record in this yard, so there is nothing to judge."
    unknown = sum(
        any(a.standing is Standing.NOT_KNOWN for a in one.circuits) for one in picture.craft
    )
    cooling = "".join(
        f"{one.space.name} is losing its heat. "
        for one in picture.spaces
        if one.air.standing is Standing.FALLING
    )
    blind = f" {_craft_count(unknown)} cannot be judged for want of readings." if unknown else ""
    asked = [t for t in picture.tasks if t.first.hazard in _BY_CRAFT and not t.can_wait]
    if asked:
        count = len({one.id for task in asked for one in task.craft})
        verb = "needs" if count == 1 else "need"
        first = asked[0]
        where = first.craft[0].name if len(first.craft) == 1 else first.space.name
        by = f", before {wording.clock(first.by)}" if first.by and first.by > picture.at else ""
        if total == 1:
            return f"{cooling}{where} needs an act{by}.{blind}"
        return f"{cooling}{count} of {total} craft {verb} an act; first {where}{by}.{blind}"
    well = QUIET | {Standing.NOT_KNOWN}  # counted above
    watched = sum(any(a.standing not in well for a in one.circuits) for one in picture.craft)
    if watched:
        return f"{cooling}{watched} of {total} craft to keep an eye on.{blind}"
    if unknown:
        return f"{cooling}{blind.strip()}"
    least = min(
        ((a.margin_k, one) for one in picture.craft for a in one.circuits), default=None,
        key=lambda pair: math.inf if math.isnan(pair[0]) else pair[0],
    )  # fmt: skip
    if least is None or not math.isfinite(least[0]):
        return f"{cooling}{_all_hold(picture)}."
    which = f", {least[1].craft.name}" if total > 1 else ""
    return (
        f"{cooling}{_all_hold(picture)}; the least room is {wording.difference(least[0])}{which}."
    )


def _all_hold(picture: Picture) -> str:
    if len(picture.craft) == 1:
        return f"{picture.craft[0].craft.name} holds what tonight brings"
    return f"All {len(picture.craft)} craft hold what tonight brings"


def out_of_date(picture: Picture, wording: Wording, old_after: timedelta = OLD_AFTER) -> str:
    """Warn when the latest judgement is old; empty while judging goes on."""
    if picture.judged_at is None or picture.at - picture.judged_at <= old_after:
        return ""
    return (
        f"The latest judgement is of {wording.clock(picture.judged_at)}: laidup may have stopped"
        " judging. Read the thermometers by hand, and look at the machine that runs it."
    )


def part_name(assessment: Assessment, craft: StoredCraft | None) -> str:
    """Name the circuit, surface, battery or sensor that was judged, as people call it."""
    part = assessment.subject.part
    if craft is None:
        return part
    if assessment.hazard is Hazard.BATTERY:
        return "battery"
    parts = craft.surfaces if assessment.hazard is Hazard.DAMP else craft.circuits
    return {one.id: one.name for one in parts}.get(part, part)


def margin(assessment: Assessment, wording: Wording) -> str:
    """Say how much room is left, in words that need no sign."""
    margin_k = assessment.margin_k
    if math.isnan(margin_k):
        return "margin not known"
    if margin_k == math.inf:
        return "seen dry, nothing to freeze" if assessment.hazard is Hazard.FROST else "no limit"
    if assessment.hazard is Hazard.DAMP:
        side = "above" if margin_k >= 0 else "below"
        return f"{wording.difference(margin_k)} {side} dew point"
    return f"{wording.difference(margin_k)} {'to spare' if margin_k >= 0 else 'short'}"


def also(task: Task, wording: Wording) -> str:
    """Name what else a visit is for, in few words: the parts, and how each stands."""
    one = task.craft[0] if len(task.craft) == 1 else None
    parts: dict[str, list[str]] = {}
    for a in task.steps[1:]:
        stands = standing_words(a.standing, a.hazard)
        named = parts.setdefault(stands, [])
        if a.hazard in _TIMES:
            named.append(f"{part_name(a, one)} ({margin(a, wording)})")
    return "; ".join(
        f"{stands}: {', '.join(names)}" if names else stands for stands, names in parts.items()
    )


def numbers(assessment: Assessment, wording: Wording) -> str:
    """The figures of a judgement in one line; empty where it has none."""
    a, w = assessment, wording
    if a.hazard not in _TIMES:
        return ""
    if a.limit_c == -math.inf:
        return margin(a, w)
    said = []
    if a.hazard is Hazard.DAMP:
        point = "frost point" if a.limit_c < 0.0 else "dew point"
        said += _known("metal", a.now_c, w) + _known(point, a.limit_c, w)
    elif a.hazard in _BY_CRAFT:
        limit = "ice at" if a.hazard is Hazard.FROST else "freezes at"
        said += [] if math.isnan(a.limit_c) else [f"{limit} {w.ice_point(a.limit_c)}"]
    if a.hazard is not Hazard.DAMP:
        low_at = f" about {w.clock(a.low_at)}" if a.low_at else ""
        reaches = "coming low" if a.hazard is Hazard.AIR else "reaches"
        said += [low + low_at for low in _known(reaches, a.low_c, w)]
    if not math.isnan(a.margin_k):
        said.append(margin(a, w))
    begins, ends = _TIMES[a.hazard]
    if a.deadline and a.standing not in _BEGUN:
        said.append(f"{begins} about {w.clock(a.deadline)}")
    over = a.ends and a.deadline and a.ends <= a.deadline  # a film too thin to speak of
    if a.ends and a.standing is not Standing.SOLID and not over:
        said.append(f"{ends} about {w.clock(a.ends)}")
    return ", ".join(said)


_BEGUN = frozenset({Standing.ICING, Standing.SOLID})  # when it began is past
_TIMES = {
    Hazard.FROST: ("first ice", "frozen through"),
    Hazard.DAMP: ("wet from", "dry again"),
    Hazard.BATTERY: ("freezing from", "frozen through"),
    Hazard.AIR: ("below freezing from", "above again"),
}


def _known(name: str, value_c: float, wording: Wording) -> list[str]:
    return [] if math.isnan(value_c) else [f"{name} {wording.temperature(value_c)}"]


def _craft_count(count: int) -> str:
    return f"{count} craft"


def coldest(picture: Picture, wording: Wording) -> str:
    """Say where it gets coldest, how cold and when; empty where no low is known."""
    known = [one for one in picture.spaces if math.isfinite(one.air.low_c)]
    if not known:
        return ""
    one = min(known, key=lambda one: one.air.low_c)
    about = f" about {wording.clock(one.air.low_at)}" if one.air.low_at else ""
    return f"It gets coldest in {one.space.name}: {wording.temperature(one.air.low_c)}{about}."
