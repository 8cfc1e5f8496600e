"""What a person was told of each danger, and for how long that makes the next no news.

A danger is what one circuit, battery, space or sensor stands in. A cold spell is told once: it
lasts while night after night (noon to noon) the danger stands as bad as was told. After a night
without it, or once somebody has looked into what had ice in it, the same danger is news again.
Damp lasts longer: front follows front, and what to do about a space that sweats is the same each
time, so it is news again after a week without it. So is new ice in what is left alone for its ice.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta, tzinfo

from monitor.alarms.entry import Entry, planned_act
from monitor.phrases.standings import ICED
from monitor.yard.alarm import ACTIVE, AlarmState, Topic
from monitor.yard.assessment import Hazard
from monitor.yard.watch import Conversation, LeftYard, MadeSafe, NotifiedDanger, what_made_safe

_NIGHT_BEGINS = timedelta(hours=12)
_A_NIGHT = timedelta(days=1)
# Fronts pass every few days (common knowledge of middle latitudes).
_A_WEEK = timedelta(days=7)
_EARLIER = timedelta(hours=2)  # a deadline that moved up by this much is news
_SOON = timedelta(hours=4)  # if it is this near
_CLOSED = frozenset({AlarmState.NORMAL, AlarmState.RETURNED})


def evening_of(at: datetime, zone: tzinfo) -> date:
    """The date that names a night: that of its evening, also for hours after midnight."""
    return (at.astimezone(zone).replace(tzinfo=None) - _NIGHT_BEGINS).date()


def open_dangers(entries: Iterable[Entry]) -> dict[str, list[Entry]]:
    """Entries whose alarm is not over, by the danger that they tell of."""
    found: dict[str, list[Entry]] = {}
    for entry in entries:
        if entry.alarm.state not in _CLOSED:
            found.setdefault(entry.danger, []).append(entry)
    return found


def dangers_notified_so_far(
    conversation: Conversation, dangers: Mapping[str, Sequence[Entry]], tonight: date, zone: tzinfo
) -> dict[str, NotifiedDanger]:
    """What a thread has notified of the dangers still open, as far as it counts tonight.

    Parameters
    ----------
    conversation : Conversation
    dangers : mapping of danger to its entries
        Those that are open.
    tonight : date
        See `evening_of`.
    zone : tzinfo
        The yard's own.

    Returns
    -------
    dict of NotifiedDanger by danger
        Rank 0 stands for one of an earlier spell: whatever comes is worse than that. Of damp also
        what is over and would be no news if it came back.
    """
    damp = conversation.topic == Topic.DAMP
    counted = {
        danger: told
        for danger, told in conversation.told.items()
        if damp and told.night is not None and tonight - told.night <= _A_WEEK
    }
    for danger, entries in dangers.items():
        before = conversation.told.get(danger)
        if before is None:
            before = _dangers_by_craft(conversation, entries, zone)
        if before is not None:
            before = replace(before, about=entries[0].about)
            counted[danger] = _counted_tonight(before, entries, tonight)
    return counted


def _counted_tonight(
    before: NotifiedDanger, entries: Sequence[Entry], tonight: date
) -> NotifiedDanger:
    if before.rank >= ICED and not any(entry.iced for entry in entries):
        return replace(before, rank=0, deadline=None)  # somebody has looked into it
    stands = max((e.rank for e in entries if e.alarm.state in ACTIVE and e.endangers), default=0)
    if not stands:
        return before
    gap = _A_WEEK if _asks_for_the_same(before, entries) else _A_NIGHT
    spell_over = before.night is not None and tonight - before.night > gap
    if stands >= before.rank:
        if spell_over:
            return replace(before, rank=0, deadline=None, night=tonight)
        return replace(before, night=tonight)
    return replace(before, rank=stands, night=tonight) if spell_over else before


def _asks_for_the_same(before: NotifiedDanger, entries: Sequence[Entry]) -> bool:
    """Whether a danger that comes back after some nights asks for nothing that was not told."""
    of_damp = entries[0].definition.topic is Topic.DAMP
    return of_damp or (before.rank >= ICED and any(entry.iced for entry in entries))


def _dangers_by_craft(
    conversation: Conversation, entries: Sequence[Entry], zone: tzinfo
) -> NotifiedDanger | None:
    """What a conversation of an older store, which remembered whole craft, told of one danger.

    Its last letter listed all that was active then, so whatever has not changed since was in it.
    """
    of_craft = conversation.told.get(entries[0].about)
    if of_craft is None or of_craft.night is not None or not conversation.sent:
        return None
    last = conversation.sent[-1]
    listed = [
        entry.rank
        for entry in entries
        if entry.alarm.changed_at <= last or entry.alarm.state is AlarmState.ACKNOWLEDGED
    ]
    if not listed:
        return None
    rank = min(of_craft.rank, max(listed))
    return replace(of_craft, rank=rank, night=evening_of(last, zone))


def with_notified_entry(
    before: NotifiedDanger | None, entry: Entry, tonight: date
) -> NotifiedDanger:
    """The worst notified of a danger, once a letter lists this entry too."""
    deadline = entry.alarm.deadline
    if before is None:
        return NotifiedDanger(
            about=entry.about,
            rank=entry.rank,
            deadline=deadline,
            night=tonight,
            job=_job_of(entry),
        )
    ahead = [at for at in (before.deadline, deadline) if at is not None]
    if before.night != tonight and deadline is not None:
        ahead = [deadline]  # the hour of an earlier night says nothing of this one's
    return replace(
        before,
        rank=max(before.rank, entry.rank),
        deadline=min(ahead) if ahead else None,
        night=tonight if entry.endangers else before.night,
        job=_job_of(entry),
    )


def is_news(entry: Entry, told: Mapping[str, NotifiedDanger], now: datetime) -> bool:
    """Staff hear what is new or worse, and of a deadline that has moved up and is near."""
    before = told.get(entry.danger)
    if before is None:
        return not (entry.iced and _is_left_alone(entry.alarm.craft, told))
    if entry.rank > before.rank:
        # Told in an earlier spell, and passed by while it waited for a letter: no news any more.
        return before.rank > 0 or entry.endangers or entry.iced
    deadline = entry.alarm.deadline
    return deadline is not None and deadline <= now + _SOON and moved_up(entry, told, now)


def is_covered(entry: Entry, told: Mapping[str, NotifiedDanger]) -> bool:
    """Whether a job that was told of its craft saves this circuit too, by an hour that is as good.

    Whoever does the job as told has nothing else to do; a step more, or an hour much sooner, is
    news. Once what it was told for holds, it covers nothing any more.
    """
    job, deadline = _job_of(entry), entry.alarm.deadline
    if not job or entry.iced:
        return False
    asked = [
        each
        for each in told.values()
        if each.about == entry.about
        and each.job
        and each.rank >= entry.rank
        and (deadline is None or each.deadline is None or each.deadline - deadline < _EARLIER)
    ]
    return set(job) <= {step for each in asked for step in each.job}


def _job_of(entry: Entry) -> tuple[str, ...]:
    """The steps of its craft's plan that save a circuit; none where they do not name it."""
    planned = planned_act(entry)
    if planned is None or any(not step.circuits for step in planned.steps):
        return ()
    if not any(entry.alarm.part in step.circuits for step in planned.steps):
        return ()
    return tuple(
        f"{step.kind} {circuit} {step.product.id if step.product else ''} {step.quantity_l}"
        for step in planned.steps
        for circuit in step.circuits
    )


def _is_left_alone(craft: str, told: Mapping[str, NotifiedDanger]) -> bool:
    """Whether all that was told of a craft and the frost is that ice is in it.

    More ice in it changes nothing for who leaves it alone. Where a part was still to be saved it
    is news: nothing is left to save.
    """
    frost = f"#{Hazard.FROST}"
    ranks = [each.rank for key, each in told.items() if each.about == craft and key.endswith(frost)]
    return bool(ranks) and min(ranks) >= ICED


def moved_up(entry: Entry, told: Mapping[str, NotifiedDanger], now: datetime) -> bool:
    """Whether the hour that matters comes much sooner than was told; what is past is no news."""
    before, deadline = told.get(entry.danger), entry.alarm.deadline
    return (
        before is not None
        and before.rank < ICED
        and deadline is not None
        and before.deadline is not None
        and before.deadline - deadline >= _EARLIER
        and now < deadline
    )


def is_news_to_owner(entry: Entry, told: Mapping[str, NotifiedDanger], tonight: date) -> bool:
    """An owner hears that the craft is not safe, and that there is ice in it; no more."""
    before = told.get(entry.danger)
    if entry.rank <= 1 or (before is not None and entry.rank <= before.rank):
        return False
    if before is not None and not before.rank and not (entry.endangers or entry.iced):
        return False
    return entry.rank > (worst_notified_rank(entry.about, told, tonight) or 0)


def worst_notified_rank(
    about: str, told: Mapping[str, NotifiedDanger], tonight: date
) -> int | None:
    """Highest rank notified in this spell of any danger to one craft, space or sensor."""
    ranks = [
        each.rank
        for each in told.values()
        if each.about == about
        and each.rank
        and (each.night is None or tonight - each.night <= _A_NIGHT)
    ]
    return max(ranks, default=None)


def craft_left(before: Conversation, entries: Iterable[Entry]) -> tuple[LeftYard, ...]:
    """Craft of which a thread has told and which left the yard's care since its last letter.

    Nobody said that they are safe: what threatened them is only watched by nobody any more.

    Parameters
    ----------
    before : Conversation
        The thread as the last round left it.
    entries : iterable of Entry
        As for `craft_made_safe`.
    """
    entries = list(entries)
    back = {entry.alarm.craft for entry in entries if entry.left_at is None}
    found = {one.craft: one for one in before.left if one.craft not in back}
    for entry in entries:
        craft, at = entry.craft, entry.left_at
        if craft is None or at is None or entry.danger not in before.told:
            continue
        known = found.get(craft.id)
        iced = entry.needs_inspection or (known is not None and known.iced)
        found[craft.id] = LeftYard(craft=craft.id, name=craft.name, at=at, iced=iced)
    return tuple(sorted(found.values(), key=lambda one: (one.at, one.craft)))


def craft_made_safe(before: Conversation, entries: Iterable[Entry]) -> tuple[MadeSafe, ...]:
    """Craft of which a thread has told and of which no danger is left, since its last letter.

    Parameters
    ----------
    before : Conversation
        The thread as the last round left it.
    entries : iterable of Entry
        All of its topic that are open, and those that this round brought back to normal.
    """
    entries = list(entries)
    still_open = {each.alarm.craft for each in entries if each.alarm.state not in _CLOSED}
    found = {one.craft: one for one in before.safe if one.craft not in still_open}
    for entry in entries:
        craft = entry.alarm.craft
        told = entry.danger in before.told and entry.left_at is None
        if craft and told and craft not in still_open and craft not in found:
            found[craft] = what_made_safe(entry.alarm, entry.craft)
    return tuple(sorted(found.values(), key=lambda one: (one.at, one.craft)))
