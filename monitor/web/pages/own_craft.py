"""An owner's page: safe tonight or not, what was done, the winter, what was told, letters.

The picture is cut down to the owner's craft before any word is made, so that nothing of anybody
else's can reach the page.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord, stored_craft
from monitor.phrases.names import plain
from monitor.phrases.owner_catalogue import TOLD_ACTS, OwnerCatalogue
from monitor.phrases.owner_languages import catalogue_of
from monitor.phrases.owner_lines import at_words, cause_sentence, close_gaps, since_words
from monitor.phrases.owner_page_words import OwnerPageWords, page_words_of
from monitor.phrases.owner_words import owner_words_for
from monitor.reports.owner_week import CraftOfWeek, compose_owner_week
from monitor.reports.owner_winter import (
    NightKept,
    OwnedCraft,
    WinterNight,
    read_owned_craft,
    read_owner_report,
    yard_cut_down,
)
from monitor.reports.week import AlarmOfWeek
from monitor.store.store import Store
from monitor.wording import Wording
from monitor.yard.alarm import ACTIVE
from monitor.yard.message import Message, MessageKind
from monitor.yard.readers import wording_for_store
from monitor.yard.space import STAFF, Person, Role, Yard, shelters

_LETTERS, _DONE, _CELLS = 30, 40, 35  # five weeks of cells; earlier ones are folded
# The link that opens this page is lent to others: what a mail says to its reader alone, as the way
# to a password, is not shown again.
_REREAD = (MessageKind.ALARM, MessageKind.UPDATE, MessageKind.ALL_CLEAR, MessageKind.REPORT)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnedCraftShown:
    """One craft: how it stands, and its winter in words."""

    id: str
    name: str
    now: CraftOfWeek | None
    done: tuple[tuple[str, str, tuple[str, ...]], ...]  # day, work, photos; the newest day first
    told: tuple[str, ...]
    nights: tuple[WinterNight, ...]
    earlier: tuple[WinterNight, ...]
    opened: str  # the night that was asked for, in a line
    spring: tuple[str, ...] = ()  # how far it is before its first start


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerPage:
    """What the template shows."""

    yard_name: str
    telephone: str
    reply_to: str
    reader: str
    wording: Wording
    say: OwnerPageWords
    first: str
    contact: str  # whom to ask where there is neither a number nor an address
    craft: tuple[OwnedCraftShown, ...]
    letters: tuple[Message, ...]


def read_owner_page(
    store: Store,
    yard: Yard,
    profiles: Mapping[str, Profile],
    craft_ids: Collection[str],
    now: datetime,
    person: Person | None,
    night: date | None = None,
) -> OwnerPage:
    """Read the page of whoever may see these craft and no others.

    Parameters
    ----------
    store : Store
    yard : Yard
    profiles : mapping of str to Profile
    craft_ids : collection of str
    now : datetime
    person : Person or None
        The owner; None: somebody whom an owner lets see a craft, who gets no letters.
    night : date, optional
        Evening of the night that is to be opened.
    """
    reader = person or _NOBODY
    with store.snapshot() as tx:
        records = tx.layup.records_of(craft_ids, profiles)
        stored = [
            stored_craft(each, shelters(yard), now, wording_for_store(yard, now))
            for each in records.values()
        ]
        here = [each for each in stored if each is not None]
        own_yard = yard_cut_down(yard, here)
        report = read_owner_report(tx, own_yard, here, now)
        craft = [
            read_owned_craft(tx, own_yard, records[one.id], report.picture, now) for one in here
        ]
        # Who works here too is written to of everybody's craft, with links that answer for them.
        may_reread = person is not None and not person.roles & STAFF
        letters = tx.outbox.messages_to(reader.id, _LETTERS, _REREAD) if may_reread else []
    words = owner_words_for(yard, now, reader)
    week = compose_owner_week(report, reader, words)
    say = page_words_of(words.language)
    by_name = dict(zip((one.record.craft.id for one in craft), craft, strict=True))
    lines = {line.name: line for line in week.craft}
    return OwnerPage(
        yard_name=plain(yard.name),
        telephone=plain(yard.telephone),
        reply_to=yard.reply_to,
        reader=plain(reader.name),
        wording=words,
        say=say,
        first=week.first if here else say.none_here,
        contact="" if yard.telephone or yard.reply_to else week.contact,
        craft=tuple(
            _shown(one, lines.get(plain(one.record.craft.name)), words, say, night)
            for one in by_name.values()
        ),
        letters=tuple(message for message, _ in letters if message.channel == "mail"),
    )


_NOBODY = Person(id="", name="", mail="", roles=frozenset({Role.OWNER}))


def _shown(
    one: OwnedCraft,
    line: CraftOfWeek | None,
    words: Wording,
    say: OwnerPageWords,
    night: date | None,
) -> OwnedCraftShown:
    said = catalogue_of(words.language)
    asked = next((each for each in one.nights if each.evening == night), None)
    return OwnedCraftShown(
        id=one.record.craft.id,
        name=plain(one.record.craft.name),
        now=line,
        done=tuple(_done_lines(one.record, said, words))[:_DONE],
        told=tuple(dict.fromkeys(_told_line(each, words, say) for each in one.alarms)),
        nights=one.nights[-_CELLS:],
        earlier=one.nights[:-_CELLS],
        opened="" if asked is None else night_line(asked, words, say),
        spring=tuple(_spring_lines(one, say)),
    )


def _spring_lines(one: OwnedCraft, say: OwnerPageWords) -> Iterator[str]:
    """Where it stands on its way back into the water; nothing before anybody has begun."""
    if one.spring is None:
        return
    before = one.spring.before_start
    if one.spring.commissioned is None:
        done = len(before) - len(one.spring.open_before_start)
        yield say.being_readied.format(done=done, steps=len(before))
    yield say.may_be_started if one.spring.may_be_started else say.not_to_be_started


def night_line(night: WinterNight, words: Wording, say: OwnerPageWords) -> str:
    """One night in a line: when it began, its cold, and how the craft came through."""
    state = {
        NightKept.HELD: say.night_held,
        NightKept.UNSAFE: say.night_unsafe,
        NightKept.ICED: say.night_iced,
        NightKept.UNKNOWN: say.night_unknown,
    }[night.kept]
    low = say.low_not_read if night.low_c is None else words.temperature(night.low_c)
    day = words.date(_noon_of(night.evening, words))
    return say.night_line.format(day=day, low=low, state=state)


def _noon_of(day: date, words: Wording) -> datetime:
    return datetime(day.year, day.month, day.day, 12, tzinfo=words.zone)


def _done_lines(
    record: CraftRecord, said: OwnerCatalogue, words: Wording
) -> Sequence[tuple[str, str, tuple[str, ...]]]:
    """Work that stands, the newest first, with its photos; nothing that happened, nor by whom."""
    standing = [one for one in record.standing(words.now) if one.act in TOLD_ACTS]
    by_day: dict[str, list[LayupEntry]] = {}
    for one in sorted(standing, key=_done_at, reverse=True):
        by_day.setdefault(words.date(one.at), []).insert(0, one)
    return [
        (
            day,
            said.list_names(list(dict.fromkeys(said.acts[one.act] for one in entries))),
            tuple(photo for one in entries for photo in one.evidence.photo_sha256),
        )
        for day, entries in by_day.items()
    ]


def _done_at(entry: LayupEntry) -> datetime:
    return entry.at


def _told_line(one: AlarmOfWeek, words: Wording, say: OwnerPageWords) -> str:
    alarm = one.alarm
    what = cause_sentence(alarm.cause, words).rstrip(".")
    told = say.alarm_open.format(at=at_words(alarm.raised_at, words))
    if alarm.state not in ACTIVE and alarm.cleared_at is not None:
        until = since_words(alarm.cleared_at, words)
        told = say.alarm_over.format(at=at_words(alarm.raised_at, words), until=until)
    answer = ""
    if one.acknowledged_at is not None:
        answer = f"; {say.answered.format(at=at_words(one.acknowledged_at, words))}"
    return close_gaps(f"{what}: {told}{answer}.")
