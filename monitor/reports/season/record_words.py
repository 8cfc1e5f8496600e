"""The languages in which a season record is printed, and how its sizes are written in each."""

from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import date

from monitor.craft.layup import LayupEntry
from monitor.phrases.claim_words import claim_words_of
from monitor.phrases.names import plain
from monitor.phrases.owner_languages import LANGUAGES, catalogue_of
from monitor.reports.season.record_catalogue import RecordWords
from monitor.reports.season.record_english import ENGLISH_RECORD
from monitor.reports.season.record_german import GERMAN_RECORD
from monitor.wording import Wording

RECORD_WORDS_OF: Mapping[str, RecordWords] = {"en": ENGLISH_RECORD, "de": GERMAN_RECORD}
_UNLIKE = frozenset({"day", "date_of_work", "day_axis"})  # patterns, of other parts of a day
_MOST_STRETCHES = 6

for _language in set(LANGUAGES) ^ set(RECORD_WORDS_OF):
    raise ValueError(f"{_language}: owners are written to in it, and a record lacks its words")
for _language, _words in RECORD_WORDS_OF.items():
    for _name in (one.name for one in fields(RecordWords) if one.name not in _UNLIKE):
        if _words.fields_named(_name) != ENGLISH_RECORD.fields_named(_name):
            raise ValueError(f"{_language}, {_name}: puts in something else than English does")


def record_words_of(words: Wording) -> RecordWords:
    """A record's words for a reader; English for a language that is not there."""
    return RECORD_WORDS_OF.get(words.language, ENGLISH_RECORD)


def record_wording(words: Wording) -> Wording:
    """The same reader's units and clock in the language of the record itself."""
    return Wording(zone=words.zone, now=words.now, units=words.units, people=words.people)


def as_recorded(text: str, words: Wording) -> str:
    """What the record holds in English; in quotation marks for who reads another language."""
    return claim_words_of(words.language).as_recorded.format(text=text)


def part_words(name: str, words: Wording) -> str:
    """What a reader calls a circuit; a yard's own name as the yard wrote it."""
    return plain(catalogue_of(words.language).part_name(name))


def act_words(entry: LayupEntry, circuits: Mapping[str, str], words: Wording) -> str:
    """What was done to which circuits: ``Drained: block and heads``."""
    act = claim_words_of(words.language).acts[entry.act]
    names = [part_words(circuits.get(each, each), words) for each in entry.circuits]
    on = catalogue_of(words.language).list_names(names)
    return f"{act[:1].upper()}{act[1:]}{f': {on}' if on else ''}"


def done_words(entry: LayupEntry, words: Wording) -> str:
    """Who did it, and when by what they said."""
    say = record_words_of(words)
    day = say.write_day_of_work(entry.at.astimezone(words.zone).date())
    hour = words.hour_of_day(entry.at)
    at = say.work_at if entry.day_began is None else say.work_on
    return say.done_by.format(
        person=plain(words.person(entry.by)), at=at.format(day=day, hour=hour)
    )


def channel_words(channel: str, words: Wording) -> str:
    """A way of messages."""
    return claim_words_of(words.language).channels.get(channel, plain(channel))


def stretch_words(evenings: Sequence[date], words: Wording) -> str:
    """``3 Dec 2026 to 9 Dec 2026, 1 Jan 2027``."""
    say, found = record_words_of(words), list[list[date]]()
    for one in sorted(evenings):
        if found and (one - found[-1][-1]).days == 1:
            found[-1].append(one)
        else:
            found.append([one])
    said = [
        say.write_date(run[0])
        if len(run) == 1
        else say.to.format(since=say.write_date(run[0]), until=say.write_date(run[-1]))
        for run in found
    ]
    left = len(said) - _MOST_STRETCHES
    more = say.stretches_more.format(count=left) if left > 0 else ""
    return ", ".join(said[:_MOST_STRETCHES]) + more
