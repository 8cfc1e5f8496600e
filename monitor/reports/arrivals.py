"""The evening's list of craft that came in undone: told once, to those who lay them up.

An undone lay-up is standing work and no alarm. It would else reach nobody before a night that
matters, or the week's report; with nights near frost ahead that is late to begin.
"""

import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import inf, isfinite

from monitor.clock import Clock, to_ms
from monitor.craft.stored import StoredCraft
from monitor.errors import StoreError
from monitor.phrases.names import plain, space_name
from monitor.reports.picture import Picture, read_picture
from monitor.reports.standing_work import StandingWork, list_standing_work, standing_work_lines
from monitor.store.store import Store, Transaction
from monitor.wording import Wording, listed_first
from monitor.yard.air_facts import AirFacts
from monitor.yard.alarm import ACTIVE
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.forecast import STALE_AFTER, PublicForecast
from monitor.yard.message import Message, MessageKind
from monitor.yard.readers import messages_to, words_for
from monitor.yard.space import OUTDOORS, WARM, Person, Role, Space, Yard

log = logging.getLogger("laidup")

# A crew plans its evening and the next morning then; one that starts later is too late for today.
LIST_FROM, LIST_UNTIL = time(17), time(20)
_NEAR_FROST_C = 3.0  # a clear night is colder than was thought by so much (common practice)
_SHOWN = 12
_NAMED = 3  # in the subject


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A craft that came in today and is not laid up, and the cold that it stands before."""

    work: StandingWork
    coldest_c: float  # that the nights ahead may bring; -inf: nobody knows
    by_forecast: str  # of which agency that is; empty: of tonight, by the yard's own readings


def list_arrivals(
    picture: Picture, forecast: PublicForecast | None, since: datetime, until: datetime
) -> tuple[Arrival, ...]:
    """Craft that came from outside, are not laid up, and have nights near frost ahead of them.

    Parameters
    ----------
    picture : Picture
    forecast : PublicForecast or None
        The newest; None where there is none, or it is stale.
    since, until : datetime
        They came after the one and by the other.

    Returns
    -------
    tuple of Arrival
        The craft that came first is the first. Those of which an alarm stands are left out: it
        tells more. Where nobody knows how cold it gets, frost counts as near.
    """
    alarmed = {alarm.craft for alarm in picture.alarms if alarm.state in ACTIVE}
    airs = {one.space.id: one.air.facts for one in picture.spaces}
    came = [
        one.craft
        for one in picture.craft
        if one.craft.since is not None
        and since < one.craft.since <= until
        and not one.craft.came_from
        and one.craft.id not in alarmed
    ]
    found = []
    # Not the picture's own list: a craft with little room left is a task there, and no alarm.
    for work in list_standing_work(came, picture.yard):
        craft = work.craft
        facts = airs.get(craft.space)
        own_c = facts.low_band_low_c if isinstance(facts, AirFacts) else -inf
        own_c = own_c if isfinite(own_c) else -inf
        coming_c = _coming_low_c(forecast, picture.yard.space(craft.space), picture.at)
        if min(own_c, coming_c) > _NEAR_FROST_C:
            continue
        source = forecast.source if forecast is not None and coming_c < own_c else ""
        found.append(Arrival(work=work, coldest_c=min(own_c, coming_c), by_forecast=source))
    return tuple(found)


def _coming_low_c(forecast: PublicForecast | None, space: Space, at: datetime) -> float:
    """Lowest air that an agency expects from now on; inf where it says nothing of this space.

    A building without heat gets no colder than that, and how much warmer it stays over several
    nights is not known. Of heat that works no weather tells.
    """
    if forecast is None or space.kind in WARM:
        return inf
    ahead = forecast.air_c[forecast.at_ms >= to_ms(at)]
    return float(ahead.min()) if ahead.size else inf


class ArrivalList:
    """Writes the list of each evening to the mechanics, or to the operators of a yard without."""

    def __init__(self, store: Store, yard: Yard, clock: Clock) -> None:
        self._store = store
        self._yard = yard
        self._clock = clock
        self._looked: date | None = None  # the evening that was seen to

    def run(self, craft: Sequence[StoredCraft]) -> int:
        """Write what is due; call it after each round. Tells how many messages were written."""
        now = self._clock.now()
        local = now.astimezone(self._yard.zone)
        if self._looked == local.date() or not LIST_FROM <= local.time() < LIST_UNTIL:
            return 0
        try:
            added = self._write_list(craft, now)
        except StoreError:
            raise  # tried again by the next round
        except Exception:
            # No warning hangs on the list: a fault in it must not make the watch fail till eight.
            log.exception("The list of craft that came in could not be written.")
            added = 0
        self._looked = local.date()
        return added

    def _write_list(self, craft: Sequence[StoredCraft], now: datetime) -> int:
        """Write the list of this evening; tells how many messages were new."""
        local = now.astimezone(self._yard.zone)
        until = datetime.combine(local.date(), LIST_FROM, self._yard.zone)
        since = datetime.combine(local.date() - timedelta(days=1), LIST_FROM, self._yard.zone)
        with self._store.snapshot() as tx:
            picture = read_picture(tx, self._yard, craft, now)
            arrivals = list_arrivals(picture, _newest_forecast(tx, now), since, until)
        written = [
            message
            for person in _readers(self._yard)
            for message in self._messages(person, arrivals, now)
        ]
        if not written:
            return 0
        with self._store.transaction() as tx:
            return tx.outbox.add(written)

    def _messages(
        self, person: Person, arrivals: Iterable[Arrival], now: datetime
    ) -> list[Message]:
        mine = [
            one for one in arrivals if not person.spaces or one.work.craft.space in person.spaces
        ]
        local = now.astimezone(self._yard.zone)
        if not mine or (person.quiet is not None and person.quiet.holds(local)):
            return []
        words = words_for(self._yard, now, person)
        names = listed_first([plain(one.work.craft.name) for one in mine], _NAMED)
        return messages_to(
            person,
            key=f"arrivals/{local.date().isoformat()}/{person.id}",
            kind=MessageKind.REPORT,
            subject=f"Lay up {names}: came in today, nights near frost ahead",
            text=arrivals_text(mine, self._yard, words),
            created_at=now,
        )


def _readers(yard: Yard) -> list[Person]:
    mechanics = [person for person in yard.people if Role.MECHANIC in person.roles]
    return mechanics or [person for person in yard.people if Role.OPERATOR in person.roles]


def _newest_forecast(tx: Transaction, now: datetime) -> PublicForecast | None:
    known = tx.forecasts.known_between(now - STALE_AFTER, now)
    return max(known, key=lambda one: one.fetched, default=None)


def arrivals_text(arrivals: Sequence[Arrival], yard: Yard, words: Wording) -> str:
    """The list in words: each craft with its job, and how cold the nights ahead may get."""
    shown = arrivals[:_SHOWN]
    lines = [f"{plain(yard.name)}, {words.moment(words.now)}", "", "CAME IN TODAY, NOT LAID UP"]
    jobs = standing_work_lines([one.work for one in shown], yard, words)
    for one, job in zip(shown, jobs, strict=True):
        lines += [plain(job, 400), f"  {_cold_sentence(one, yard, words)}"]
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


def _cold_sentence(arrival: Arrival, yard: Yard, words: Wording) -> str:
    if not isfinite(arrival.coldest_c):
        space = space_name(yard, arrival.work.craft.space)
        return f"Nobody knows how cold {space} will get."
    coldest = words.temperature(arrival.coldest_c, 0)
    if arrival.by_forecast:
        kind = yard.space(arrival.work.craft.space).kind
        where = "" if kind in OUTDOORS else " outdoors"
        return f"Down to {coldest}{where} in the nights ahead, by {plain(arrival.by_forecast)}."
    return f"Tonight may bring it to {coldest}."
