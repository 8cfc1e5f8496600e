"""The rows of a past night: what was said of each space, how each craft stood, what was raised."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from monitor.craft.stored import StoredCraft
from monitor.phrases.alarm_lines import headline_text, reason_text
from monitor.phrases.causes import cause_title
from monitor.phrases.craft_tonight import craft_sentences, has_ice, is_pressing
from monitor.phrases.standings import is_well, worst_first
from monitor.reports.alarm_groups import by_cause
from monitor.reports.picture import compose_craft_picture
from monitor.store.standing_history import PastJudgement
from monitor.wording import Wording
from monitor.yard.alarm import Alarm, AlarmEvent, AlarmState
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.forecast import SaidNight
from monitor.yard.space import Space


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceNight:
    """What was said of one space; None where nothing was."""

    space: Space
    said: SaidNight | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftNight:
    """How one craft stood then, each circuit by its last change of standing until then."""

    craft: StoredCraft
    tonight: str
    do_not_start: bool
    circuits: tuple[Assessment, ...]
    is_well: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RaisedAlarm:
    """One alarm in the words of the hour in which it was raised, and its state now."""

    at: datetime
    said: str
    state: AlarmState


@dataclass(frozen=True, slots=True, kw_only=True)
class RaisedAlarms:
    """What was raised of one cause in a night, in order of time."""

    title: str
    rows: tuple[RaisedAlarm, ...]


def space_nights(spaces: Iterable[Space], said: Iterable[SaidNight]) -> Iterable[SpaceNight]:
    """Every space with what was said of its night."""
    by_space = {each.space: each for each in said}
    return (SpaceNight(space=each, said=by_space.get(each.id)) for each in spaces)


def craft_nights(
    here: Sequence[StoredCraft],
    judged: Sequence[PastJudgement],
    then: Wording,
    seen_at: datetime,
) -> list[CraftNight]:
    """How each craft stood then, those in need first."""
    of_craft: dict[str, list[Assessment]] = defaultdict(list)
    for each in judged:
        of_craft[each.seen.subject.craft].append(each.seen)
    found = []
    for one in here:
        picture = compose_craft_picture(one, of_craft[one.id], seen_at)
        others = [each for each in of_craft[one.id] if each.hazard is not Hazard.FROST]
        found.append(
            CraftNight(
                craft=one,
                tonight=craft_sentences(picture.circuits, others, one, then),
                do_not_start=has_ice(picture.circuits),
                circuits=tuple(a for a in picture.circuits if not is_well(a)),
                is_well=all(is_well(a) for a in picture.circuits)
                and not any(is_pressing(a) for a in others),
            )
        )
    return sorted(found, key=_need_of)


def _need_of(row: CraftNight) -> tuple[int, float, object]:
    return worst_first(row.circuits[0]) if row.circuits else (99, 0.0, row.craft.name)


def raised_alarms(
    alarms: Iterable[Alarm], became: Mapping[str, Sequence[AlarmEvent]], words: Wording
) -> tuple[RaisedAlarms, ...]:
    """Alarms by cause, as each was told when it came: what it says now is of another hour."""
    return tuple(
        RaisedAlarms(
            title=cause_title(group.cause),
            rows=tuple(_raised(each, became.get(each.id, ()), words) for each in group.alarms),
        )
        for group in by_cause(alarms)
    )


def _raised(alarm: Alarm, became: Sequence[AlarmEvent], words: Wording) -> RaisedAlarm:
    first = next(iter(became), None)
    said = headline_text(alarm, words) if first is None else reason_text(first, alarm, words)
    return RaisedAlarm(at=alarm.raised_at, said=said.rstrip("."), state=alarm.state)
