"""Whole sentences that pages, mails and the command line share: the state, and one judgement."""

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

from monitor.phrases.names import plain
from monitor.phrases.standings import is_well
from monitor.phrases.supplies import crew_words, hands_words
from monitor.reports.picture import CraftPicture, Picture
from monitor.reports.tasks import Task
from monitor.wording import Wording, listed
from monitor.yard.assessment import Assessment, Hazard, Standing

OLD_AFTER = timedelta(minutes=15)  # a round is due every minute
_HEAT = frozenset({Hazard.AIR, Hazard.POWER})
_BY_CRAFT = frozenset({Hazard.FROST, Hazard.BATTERY})


def state_of_things(picture: Picture, wording: Wording) -> str:
    """Say in a sentence or two how the yard stands and what comes first."""
    if picture.judged_at is None:
        return (
            "Nothing has been judged yet: no usable reading has come in. Until one does, take"
            " nothing as safe."
        )
    if not picture.craft:
        return "No craft is on record in this yard, so there is nothing to judge."
    said = (_losing_heat(picture), _work_or_room(picture, wording), _not_judged(picture))
    return " ".join(each for each in said if each)


def _work_or_room(picture: Picture, wording: Wording) -> str:
    """How many craft need work tonight; where none does, how much room is left."""
    total = len(picture.craft)
    asked = [t for t in picture.tasks if _asks_for_work(t)]
    if asked:
        return _work_tonight(picture, asked, wording)
    watched = sum(any(_wants_an_eye(a) for a in one.circuits) for one in picture.craft)
    if watched:
        return f"{watched} of {total} craft to keep an eye on."
    if _blind_craft(picture):
        return ""
    return f"{_all_hold(picture)}{_least_room(picture.craft, wording)}."


def _least_room(craft: Sequence[CraftPicture], wording: Wording) -> str:
    """How much colder than tonight the first of some craft would stand; empty where none is known.

    ``; least to spare: Teal, 6.2 °C``
    """
    rooms = [(a.margin_k, one) for one in craft for a in one.circuits]
    least = min((pair for pair in rooms if math.isfinite(pair[0])), default=None, key=_room_of)
    if least is None:
        return ""
    room = wording.difference(least[0])
    if len(craft) > 1:
        return f"; least to spare: {plain(least[1].craft.name)}, {room}"
    return f": safe to {room} below tonight's low"


def who_holds(picture: Picture, wording: Wording) -> str:
    """Say how many craft hold tonight where others do not; empty where all do, or none."""
    well = [
        one
        for one in picture.craft
        if all(is_well(a) for a in one.circuits) and (one.battery is None or is_well(one.battery))
    ]
    if not well or len(well) == len(picture.craft):
        return ""
    if len(well) == 1:
        return f"{plain(well[0].craft.name)}{_least_room(well, wording)}."
    return f"{len(well)} craft{_least_room(well, wording)}."


def _asks_for_work(task: Task) -> bool:
    """Whether a craft's own frost or battery asks for it; what nobody knows is counted apart."""
    known = task.first.hazard in _BY_CRAFT and task.first.standing is not Standing.NOT_KNOWN
    return known and not task.can_wait


def _first_to_do(picture: Picture) -> Task | None:
    """What stands first in the list of work, whatever it is of."""
    pressing = [task for task in picture.tasks if not task.can_wait and not task.has_ice]
    in_time = (task for task in pressing if task.turn is None or not task.turn.too_late)
    return next(in_time, pressing[0] if pressing else None)


def _room_of(pair: tuple[float, CraftPicture]) -> float:
    return pair[0]


def _work_tonight(picture: Picture, asked: Sequence[Task], wording: Wording) -> str:
    """What can be worked on and, counted apart, what has ice inside and is to be left alone."""
    to_do = [task for task in asked if not task.has_ice]
    said = [_to_see_to(picture, to_do, wording)] if to_do else []
    iced = {one.id: one for task in asked if task.has_ice for one in task.craft}
    if not iced:
        return said[0]
    who = f"{len(iced)}{'' if to_do else f' of {len(picture.craft)} craft'}"
    if len(picture.craft) == 1:
        who = plain(picture.craft[0].craft.name)
    rest = (
        "has ice inside: leave it alone" if len(iced) == 1 else "have ice inside: leave them alone"
    )
    return " ".join([*said, f"{who} {rest}."])


def _to_see_to(picture: Picture, to_do: Sequence[Task], wording: Wording) -> str:
    count = len({one.id for task in to_do for one in task.craft})
    in_time = (task for task in to_do if task.turn is None or not task.turn.too_late)
    first = next(in_time, to_do[0])
    top = _first_to_do(picture)
    if count > 1 and top and top.first.hazard in _HEAT:
        first = top  # a space that goes cold or dark comes before any of its craft
    where = _name_of(first)
    by = f", by {wording.clock(first.by)}" if first.by and first.by > picture.at else ""
    if len(picture.craft) == 1:
        return f"{where} needs work tonight{by}."
    total = len(picture.craft)
    if count == 1:
        return f"1 of {total} craft needs work tonight: {where}{by}."
    return f"{count} of {total} craft need work tonight; first {where}{by}."


def _losing_heat(picture: Picture) -> str:
    return " ".join(
        f"{plain(one.space.name)} is losing its heat."
        for one in picture.spaces
        if one.air.standing is Standing.FALLING
    )


def _blind_craft(picture: Picture) -> int:
    return sum(any(a.standing is Standing.NOT_KNOWN for a in one.circuits) for one in picture.craft)


def _not_judged(picture: Picture) -> str:
    blind = _blind_craft(picture)
    if not blind:
        return ""
    said = f"{blind} craft cannot be judged for want of readings"
    if any(_asks_for_work(task) for task in picture.tasks):
        return f"{said}."
    first = _first_to_do(picture)
    return f"{said}{f'; first {_name_of(first)}' if first else ''}."


def crew_of_tonight(picture: Picture, wording: Wording) -> str:
    """How long the pressing work takes, and whether all of it can be made in time."""
    turns: dict[tuple[str, ...], Task] = {}
    for task in picture.tasks:
        if not task.can_wait and task.turn is not None and not task.has_ice:
            turns.setdefault((task.space.id, *(one.id for one in task.craft)), task)
    minutes = sum(task.turn.minutes for task in turns.values() if task.turn is not None)
    late = [_name_of(task) for task in turns.values() if task.turn and task.turn.too_late]
    pressing = [_name_of(task) for task in turns.values() if task.is_pressing_at(picture.at)]
    if len(turns) < 2:
        return ""
    return crew_words(minutes, late, hands_words(picture.yard, wording), pressing=pressing)


def _name_of(task: Task) -> str:
    return plain(task.craft[0].name if len(task.craft) == 1 else task.space.name)


def _wants_an_eye(seen: Assessment) -> bool:
    """Whether a circuit does not stand well; one of which nothing is known is counted apart."""
    return not is_well(seen) and seen.standing is not Standing.NOT_KNOWN


def _all_hold(picture: Picture) -> str:
    if len(picture.craft) == 1:
        left = ", not laid up yet" if picture.standing_work else ""
        return f"{plain(picture.craft[0].craft.name)} is safe tonight{left}"
    undone = len(picture.standing_work)
    left = f", {undone} of them not laid up yet" if undone else ""
    total = len(picture.craft)
    return f"{'Both' if total == 2 else f'All {total}'} craft are safe tonight{left}"


def is_out_of_date(picture: Picture, old_after: timedelta = OLD_AFTER) -> bool:
    """Whether judging seems to have stopped; False where nothing was ever judged."""
    return picture.judged_at is not None and picture.at - picture.judged_at > old_after


def out_of_date(picture: Picture, wording: Wording, old_after: timedelta = OLD_AFTER) -> str:
    """Warn when the latest judgement is old; empty while judging goes on."""
    return judged_long_ago(picture.judged_at, wording, old_after)


def judged_long_ago(
    judged_at: datetime | None, wording: Wording, old_after: timedelta = OLD_AFTER
) -> str:
    """Warn that judgements are old, by the time of the latest; empty where they are not."""
    if judged_at is None or wording.now - judged_at <= old_after:
        return ""
    return (
        f"The latest judgement is of {wording.clock(judged_at)}: laidup may have stopped"
        " judging. Read the thermometers by hand, and look at the machine that runs it."
    )


def coldest(picture: Picture, wording: Wording) -> str:
    """Say where it gets coldest, how cold and when; empty where no low is known."""
    known = [one for one in picture.spaces if math.isfinite(one.air.low_c)]
    if not known:
        return ""
    one = min(known, key=lambda one: one.air.low_c)
    about = f" about {wording.clock(one.air.low_at)}" if one.air.low_at else ""
    low, place = wording.temperature(one.air.low_c), plain(one.space.name)
    unknown = [
        plain(each.space.name) for each in picture.spaces if not math.isfinite(each.air.low_c)
    ]
    if unknown:
        return (
            f"Nobody knows how cold {listed(unknown)} will get; of the others {place} gets"
            f" coldest: {low}{about}."
        )
    return f"It gets coldest in {place}: {low}{about}."
