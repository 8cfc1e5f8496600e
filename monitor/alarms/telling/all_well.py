"""A daily word to whoever asks for one: the watch goes on. Its absence is the message."""

from collections import Counter
from collections.abc import Sequence
from datetime import datetime, timedelta

from monitor.alarms.definitions import DEFINITIONS
from monitor.clock import Clock
from monitor.phrases.names import plain
from monitor.store.store import Store
from monitor.yard.alarm import ACTIVE, Alarm
from monitor.yard.assessment import Assessment, Caution, Hazard, Standing
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.message import Message, MessageKind
from monitor.yard.readers import messages_to, words_for
from monitor.yard.space import Person, Yard

_FRESH = timedelta(minutes=30)  # nothing newer judged: the watch does not go on
_LATE = timedelta(hours=2)  # so late in the day it would mislead about when it was asked for


class AllWell:
    """Writes the daily word."""

    def __init__(self, store: Store, yard: Yard, clock: Clock) -> None:
        self._store = store
        self._yard = yard
        self._clock = clock

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the yard as people have changed it."""
        self._yard = yard

    def run(self) -> int:
        """Write whatever word is due; call it after each round. Tells how many were written.

        Nothing is written while no judgement is fresh: somebody who misses the word will look.
        """
        wanted = [person for person in self._yard.people if person.all_well_at is not None]
        now = self._clock.now()
        due = [person for person in wanted if self._is_due(person, now)]
        if not due:
            return 0
        with self._store.transaction() as tx:
            judged = [
                each for each in tx.assessments.latest_judgements() if now - each.at <= _FRESH
            ]
            if not judged:
                return 0
            standing = [alarm for alarm in tx.alarms.open_alarms() if alarm.state in ACTIVE]
            return tx.outbox.add(
                message
                for person in due
                for message in self._messages(person, judged, standing, now)
            )

    def _is_due(self, person: Person, now: datetime) -> bool:
        if person.all_well_at is None:
            return False
        local = now.astimezone(self._yard.zone)
        at = datetime.combine(local.date(), person.all_well_at, self._yard.zone)
        return timedelta(0) <= local - at < _LATE

    def _messages(
        self,
        person: Person,
        judged: Sequence[Assessment],
        standing: Sequence[Alarm],
        now: datetime,
    ) -> list[Message]:
        words = words_for(self._yard, now, person)
        craft = {each.subject.craft for each in judged if each.subject.craft}
        spaces = [each for each in judged if each.hazard is Hazard.AIR]
        unheard = [each for each in judged if _is_unheard(each)]
        unseen = [each for each in spaces if each.standing is Standing.NOT_KNOWN]
        name = plain(self._yard.name)
        lines = [
            f"{name}, {words.full_time(now)}",
            "",
            f"Spaces watched: {len(spaces)}, whose air is not known: {len(unseen)};"
            f" craft: {len(craft)}.",
            _standing_sentence(standing),
            f"Sensors not heard: {len(unheard)}.",
            *(
                f"  {plain(self._yard.space(each.subject.space).name)}:"
                f" {words.temperature(each.now_c)} now, low {words.temperature(each.low_c)}"
                for each in spaces
            ),
            "",
            "This word comes every day at the hour you asked for. If it does not come, look.",
            "",
            "--",
            CAUTION_TEXT[Caution.NOT_LIFE_SAFETY],
        ]
        well = _how_well(len(standing), sees_all=not (unseen or unheard))
        day = now.astimezone(self._yard.zone).date()
        return messages_to(
            person,
            key=f"all-well/{day.isoformat()}/{person.id}",
            kind=MessageKind.REPORT,
            subject=f"Watching {name}: {well}",
            text="\n".join(lines) + "\n",
            created_at=now,
        )


def _is_unheard(seen: Assessment) -> bool:
    """Whether a judgement is of a sensor that is not heard."""
    if seen.standing is Standing.SILENT:
        return True
    return seen.hazard is Hazard.SILENCE and seen.standing is Standing.NOT_KNOWN


def _how_well(alarms: int, *, sees_all: bool) -> str:
    """The end of the subject line."""
    if alarms:
        return f"{alarms} alarm{'s stand' if alarms > 1 else ' stands'}"
    return "all well" if sees_all else "not everything is seen"


def _standing_sentence(standing: Sequence[Alarm]) -> str:
    if not standing:
        return "Nothing needs work."
    titles = Counter(
        DEFINITIONS[alarm.cause].title if alarm.cause in DEFINITIONS else alarm.cause
        for alarm in standing
    )
    return f"Alarms that stand: {', '.join(f'{title} {n}' for title, n in titles.most_common())}."
