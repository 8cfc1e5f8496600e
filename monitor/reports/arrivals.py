"""The evening's list of craft that came in undone: told once, to those who lay them up.

An undone lay-up is standing work and no alarm. It would else reach nobody before a night that
matters, or the week's report; with nights near frost ahead that is late to begin.
"""

import logging
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from monitor.clock import Clock
from monitor.craft.stored import StoredCraft
from monitor.errors import StoreError
from monitor.phrases.air import cold_ahead_text
from monitor.phrases.names import plain
from monitor.reports.picture import Picture, read_picture
from monitor.reports.standing_work import (
    StandingWork,
    cold_ahead,
    list_standing_work,
    newest_forecast,
    standing_work_lines,
)
from monitor.store.housekeeping_memory import NotifiedArrival
from monitor.store.store import Store
from monitor.wording import Wording, listed_first
from monitor.yard.alarm import ACTIVE
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.forecast import ColdAhead, PublicForecast
from monitor.yard.message import Message, MessageKind
from monitor.yard.readers import messages_to, words_for
from monitor.yard.space import Person, Role, Yard

log = logging.getLogger("laidup")

# A crew plans its evening and the next morning then.
LIST_FROM = time(17)
# What came to be known after that hour, or while nobody judged, is told at the next hour by day.
TOLD_FROM, TOLD_UNTIL = time(6), time(21)
_LOOK_BACK = timedelta(hours=48)  # who has been here for longer is on the page's list for days
_NEAR_FROST_C = 3.0  # a clear night is colder than was thought by so much (common practice)
_SHOWN = 12
_NAMED = 3  # in the subject


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A craft that came in and is not laid up, and the cold that it stands before."""

    work: StandingWork
    ahead: ColdAhead


def due_at(came: datetime, yard: Yard) -> datetime:
    """The first hour of the list after a craft came."""
    local = came.astimezone(yard.zone)
    day = local.date() + timedelta(days=local.time() > LIST_FROM)
    return datetime.combine(day, LIST_FROM, yard.zone)


def came_in(craft: Iterable[StoredCraft], yard: Yard, now: datetime) -> list[StoredCraft]:
    """Craft that came from outside within two days and whose hour of the list has come."""
    return [
        one
        for one in craft
        if one.since is not None
        and one.since >= now - _LOOK_BACK
        and not one.came_from
        and due_at(one.since, yard) <= now
    ]


def list_arrivals(
    picture: Picture, came: Iterable[StoredCraft], forecast: PublicForecast | None
) -> tuple[Arrival, ...]:
    """Those of the craft that came which are not laid up and have nights near frost ahead.

    Parameters
    ----------
    picture : Picture
    came : iterable of StoredCraft
    forecast : PublicForecast or None
        The newest; None where there is none, or it is stale.

    Returns
    -------
    tuple of Arrival
        The craft that came first is the first. Those of which an alarm stands are left out: it
        tells more. Where nobody knows how cold it gets, frost counts as near.
    """
    alarmed = {alarm.craft for alarm in picture.alarms if alarm.state in ACTIVE}
    airs = {one.space.id: one.air for one in picture.spaces}
    yard = picture.yard
    found = []
    # Not the picture's own list: a craft with little room left is a task there, and no alarm.
    for work in list_standing_work((one for one in came if one.id not in alarmed), yard):
        space = yard.space(work.craft.space)
        ahead = cold_ahead(space, airs.get(space.id), forecast, picture.at)
        if ahead.coldest_c <= _NEAR_FROST_C:
            found.append(Arrival(work=work, ahead=ahead))
    return tuple(found)


class ArrivalList:
    """Writes the list of each evening to the mechanics, or to the operators of a yard without."""

    def __init__(self, store: Store, yard: Yard, clock: Clock) -> None:
        self._store = store
        self._yard = yard
        self._clock = clock
        self._looked: tuple[date, int] | None = None  # the hour that was seen to

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the yard as people have changed it."""
        self._yard = yard

    def run(self, craft: Sequence[StoredCraft]) -> int:
        """Write what is due; call it after each round. Tells how many messages were written."""
        now = self._clock.now()
        local = now.astimezone(self._yard.zone)
        hour = local.date(), local.hour
        if self._looked == hour or not TOLD_FROM <= local.time() < TOLD_UNTIL:
            return 0
        try:
            added = self._write_list(craft, now)
        except StoreError:
            raise  # tried again by the next round
        except Exception:
            # No warning hangs on the list: a fault in it must not make the watch fail for an hour.
            log.exception("The list of craft that came in could not be written.")
            added = 0
        self._looked = hour
        return added

    def _write_list(self, craft: Sequence[StoredCraft], now: datetime) -> int:
        """Write what nobody was told yet; tells how many messages were new."""
        came = came_in(craft, self._yard, now)
        if not came:
            return 0
        readers = [one for one in _readers(self._yard) if not _is_quiet(one, self._yard, now)]
        with self._store.snapshot() as tx:
            told = tx.notified_arrivals.notified_since(now - _LOOK_BACK)
            new = {one.id: _arrivals_of(came, one) - told for one in readers}
            if not any(new.values()):
                return 0
            picture = read_picture(tx, self._yard, craft, now)
            arrivals = list_arrivals(picture, came, newest_forecast(tx, now))
        written = [
            message for one in readers for message in self._messages(one, arrivals, new[one.id])
        ]
        with self._store.transaction() as tx:
            tx.notified_arrivals.put((each for some in new.values() for each in some), now)
            return tx.outbox.add(written)

    def _messages(
        self, person: Person, arrivals: Iterable[Arrival], new: Set[NotifiedArrival]
    ) -> list[Message]:
        untold = {one.craft for one in new}
        mine = [one for one in arrivals if one.work.craft.id in untold]
        if not mine:
            return []
        now = self._clock.now()
        local = now.astimezone(self._yard.zone)
        words = words_for(self._yard, now, person)
        names = listed_first([plain(one.work.craft.name) for one in mine], _NAMED)
        hour = "" if local.hour == LIST_FROM.hour else f"T{local.hour:02d}"
        return messages_to(
            person,
            key=f"arrivals/{local.date().isoformat()}{hour}/{person.id}",
            kind=MessageKind.REPORT,
            subject=f"Lay up {names}: came in, nights near frost ahead",
            text=arrivals_text(mine, self._yard, words),
            created_at=now,
        )


def _arrivals_of(came: Iterable[StoredCraft], person: Person) -> frozenset[NotifiedArrival]:
    """What came in of the spaces that a person sees to."""
    return frozenset(
        NotifiedArrival(one.id, one.since, person.id)
        for one in came
        if one.since is not None and (not person.spaces or one.space in person.spaces)
    )


def _is_quiet(person: Person, yard: Yard, now: datetime) -> bool:
    return person.quiet is not None and person.quiet.holds(now.astimezone(yard.zone))


def _readers(yard: Yard) -> list[Person]:
    mechanics = [person for person in yard.people if Role.MECHANIC in person.roles]
    return mechanics or [person for person in yard.people if Role.OPERATOR in person.roles]


def arrivals_text(arrivals: Sequence[Arrival], yard: Yard, words: Wording) -> str:
    """The list in words: each craft with its job, and how cold the nights ahead may get."""
    shown = arrivals[:_SHOWN]
    lines = [f"{plain(yard.name)}, {words.full_time(words.now)}", "", "CAME IN, NOT LAID UP"]
    jobs = standing_work_lines([one.work for one in shown], yard, words)
    for one, job in zip(shown, jobs, strict=True):
        cold = cold_ahead_text(one.ahead, yard.space(one.work.craft.space), words)
        lines += [plain(job, 400), f"  {cold}"]
    if len(arrivals) > len(shown):
        lines.append(f"And {len(arrivals) - len(shown)} more, which the page shows.")
    lines += [
        "",
        "No alarm stands for them yet. They stay on the list of the page until they are laid up.",
        "",
        "--",
        CAUTION_TEXT[Caution.NOT_LIFE_SAFETY],
    ]
    return "\n".join(lines) + "\n"
