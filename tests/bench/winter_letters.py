"""Does each letter of a winter say what to do, by when and for which craft, first of all?

``python -m tests.bench.winter_letters --seeds 201-230`` lives through simulated winters with people
who do what they are asked: of each letter to the yard the first two craft are drained and seen dry
by the next round. Each letter is then held against its own data, never its prose: its first block,
what has been done by then, how many letters a night brings, and how many a week.

A winter of 60 days and 12 craft takes some 50 s of one processor, so 30 take 25 minutes of it.
"""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import partial
from math import inf
from zoneinfo import ZoneInfo

from monitor.alarms.entry import Entry, Letter, Standpoint
from monitor.alarms.letters.owner_letter import compose_owner_letter
from monitor.alarms.letters.staff_letter import Airs, StaffLetter, compose_letter
from monitor.alarms.letters.work_lines import WorkLine
from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.craft.protection import Basis, Confidence, LayupState, Protection
from monitor.craft.stored import StoredCraft
from monitor.phrases.owner_words import owner_words_for
from monitor.store.store import Store
from monitor.yard.assessment import Hazard
from monitor.yard.readers import words_for
from monitor.yard.space import Role, Yard
from simulator.winter import ZONE, live, make
from tests.bench.scoring.command import seeds_from
from tests.bench.scoring.watch import watch

AIM_A_WEEK = 3.0  # letters to the operator, on the average of a winter
A_NIGHT = 2
_DONE_A_LETTER = 2  # craft that the yard's people get done by the next round
_BEGIN = datetime(2025, 11, 1, 12, tzinfo=ZoneInfo(ZONE))
_NOON = timedelta(hours=12)


@dataclass(slots=True)
class ReadLetters:
    """What came of the letters of some winters."""

    weeks: float = 0.0
    letters: Counter[str] = field(default_factory=Counter)  # by role
    topics: Counter[str] = field(default_factory=Counter)  # of those to the operator
    closings: Counter[str] = field(default_factory=Counter)  # those of them that only end a thread
    nights: Counter[tuple[int, str, date]] = field(default_factory=Counter)  # winter, person, night
    jobs_done: int = 0
    faults: list[str] = field(default_factory=list)

    def add(self, other: "ReadLetters") -> None:
        """Take in another winter."""
        self.weeks += other.weeks
        self.letters += other.letters
        self.topics += other.topics
        self.closings += other.closings
        self.nights += other.nights
        self.jobs_done += other.jobs_done
        self.faults += other.faults


class ReadingCrew:
    """The yard's people and owners: they read every letter, and the yard's people act on it."""

    def __init__(self, seed: int) -> None:
        """Begin a winter in which nothing is done yet."""
        self.seed = seed
        self.read = ReadLetters()
        self._done: dict[str, datetime] = {}
        self._in_hand: dict[str, datetime] = {}  # done by the next round

    def rounds_of(self, store: Store, yard: Yard, clock: ReadingsClock) -> AlarmRound:
        """Rounds of alarms whose letters are read as they are written."""
        return _ReadRound(store, yard, clock, self)

    def craft_after_work(self, craft: Sequence[StoredCraft]) -> list[StoredCraft]:
        """The craft as the record has them after all that was done up to now."""
        self._done |= self._in_hand
        self._in_hand.clear()
        done = self._done
        return [_seen_dry(one, done[one.id]) if one.id in done else one for one in craft]

    def read_letter(self, letter: Letter, yard: Yard, airs: Airs) -> None:
        """Count one letter, hold it against what it must answer, and do what it asks."""
        now, person = letter.conversation.sent[-1], letter.person
        night = (now.astimezone(yard.zone) - _NOON).date()
        self.read.nights[self.seed, person.id, night] += 1
        is_further = self.read.nights[self.seed, person.id, night] > A_NIGHT
        grave = [e for e in letter.listed_entries if e.news and e.definition.never_missed]
        self._blame(letter, now, "a third letter tells of what can wait", is_further and not grave)
        role = next(iter(sorted(person.roles)))
        self.read.letters[str(role)] += 1
        if letter.standpoint is Standpoint.OWNER:
            said = compose_owner_letter(letter, yard, owner_words_for(yard, now, person), {})
            names = {line.name for line in said.craft}
            self._blame(letter, now, "an owner's letter of no craft", not (names or said.over))
            done = names & self._done.keys() - {line.name for line in said.craft if line.has_ice}
            self._blame(letter, now, f"an owner is warned of {done}, made safe before", bool(done))
            return
        told = compose_letter(letter, yard, words_for(yard, now, person), airs)
        if Role.OPERATOR in person.roles:
            self.read.topics[str(letter.topic)] += 1
            self.read.closings[str(letter.topic)] += told.is_closing
        for fault in _faults_of(letter, told, self._done, now):
            self._blame(letter, now, fault, True)
        self._do(letter, told, now)

    def _blame(self, letter: Letter, now: datetime, fault: str, is_so: bool) -> None:
        if is_so:
            letter_is = f"seed {self.seed}, {now:%d %b %H:%M}, {letter.kind}, {letter.thread}"
            self.read.faults.append(f"{letter_is}: {fault}")

    def _do(self, letter: Letter, told: StaffLetter, now: datetime) -> None:
        entries = {entry.alarm.id: entry for entry in letter.listed_entries}
        asked = [entries[line.alarm] for line in told.to_do if line.alarm in entries]
        frost = [e.alarm.craft for e in asked if e.definition.hazard is Hazard.FROST]
        known = self._done | self._in_hand
        new = [each for each in dict.fromkeys(frost) if each not in known][:_DONE_A_LETTER]
        self._in_hand |= dict.fromkeys(new, now)
        self.read.jobs_done += len(new)


class _ReadRound(AlarmRound):
    def __init__(self, store: Store, yard: Yard, clock: ReadingsClock, crew: ReadingCrew) -> None:
        super().__init__(store, yard, clock)
        self._crew, self._crews_yard = crew, yard

    def _write(self, letter, channel, answer_link, draft):  # type: ignore[no-untyped-def]
        if channel == "mail":
            self._crew.read_letter(letter, self._crews_yard, draft.airs)
        return super()._write(letter, channel, answer_link, draft)


def _seen_dry(craft: StoredCraft, at: datetime) -> StoredCraft:
    """A craft whose every circuit was drained and seen dry at a time."""
    dry = {
        each: Protection(
            circuit=each, state=LayupState.PROVEN, ice_point_c=-inf, burst_point_c=-inf,
            basis=Basis.DRAINED, why="drained and seen dry", confidence=Confidence.HIGH,
            inspected_at=at,
        )
        for each in craft.protection
    }  # fmt: skip
    return replace(craft, protection=dry)


def _faults_of(
    letter: Letter, told: StaffLetter, done: dict[str, datetime], now: datetime
) -> Iterator[str]:
    """What a letter to the yard's people lacks in its first block, or asks for in vain."""
    lines = [*told.to_do, *told.to_leave]
    if told.is_closing:
        return
    if not lines:
        yield "no line that says what to do"
    entries = {entry.alarm.id: entry for entry in letter.listed_entries}
    for line in lines:
        yield from _faults_of_line(line, now)
        entry = entries.get(line.alarm)
        if entry is not None and _asks_for_done(line, entry, done):
            yield f"asks for {line.name}, which is done since {done[entry.alarm.craft]:%d %b %H:%M}"
    if not any(count for _, count in told.not_listed):
        in_lines = {entries[line.alarm].about for line in lines if line.alarm in entries}
        news = {entry.about for entry in letter.listed_entries if entry.news and not entry.passed}
        missing = (
            news - in_lines - {each.alarm.craft for each in letter.listed_entries if each.iced}
        )
        if missing:
            yield f"news of {sorted(missing)} has no line"


def _asks_for_done(line: WorkLine, entry: Entry, done: dict[str, datetime]) -> bool:
    is_frost = not line.has_ice and entry.definition.hazard is Hazard.FROST
    return is_frost and entry.alarm.craft in done


def _faults_of_line(line: WorkLine, now: datetime) -> Iterator[str]:
    answers = {"craft or space": line.name, "hour": line.due, "call": line.call}
    if not line.has_ice:
        answers["job"] = line.job
    for what, said in answers.items():
        if not said.strip():
            yield f"{line.name}: no {what}"
    if line.is_ahead and (line.by is None or line.by <= now):
        yield f"{line.name}: an hour to meet that has passed"


def read_winter(
    seeds: tuple[int, ...], *, craft: int, days: float, every_min: float
) -> ReadLetters:
    """Live through winters and read all their letters."""
    end = _BEGIN + timedelta(days=days)
    winters = [make(seed, craft=craft, start=_BEGIN, end=end) for seed in seeds]
    total = ReadLetters()
    for winter, lived in zip(winters, live(winters), strict=True):
        crew = ReadingCrew(winter.seed)
        heard = watch(winter, lived, timedelta(minutes=every_min), forecasts=True, crew=crew)
        crew.read.weeks = heard.weeks
        total.add(crew.read)
    return total


def rows_of(read: ReadLetters) -> Iterator[tuple[str, str]]:
    """The figures, each with its name."""
    a_week = read.letters["operator"] / read.weeks
    over = sum(1 for count in read.nights.values() if count > A_NIGHT)
    most = max(read.nights.values(), default=0)
    yield (
        "letters to the yard's people, to owners",
        (f"{read.letters['operator'] + read.letters['mechanic']}, {read.letters['owner']}"),
    )
    yield "craft made safe as letters asked", f"{read.jobs_done}"
    yield f"letters a week to the operator, aim {AIM_A_WEEK:g}", f"{a_week:.2f}"
    for topic, count in sorted(read.topics.items()):
        only_end = read.closings[topic] / read.weeks
        yield f"  of {topic}", f"{count / read.weeks:.2f}, {only_end:.2f} of them only end it"
    nights = Counter(read.nights.values())
    yield (
        "nights of one person with a letter",
        ", ".join(f"{nights[n]} with {n}" for n in sorted(nights)),
    )
    yield "nights of one person with more than two letters, most", f"{over}, {most}"
    yield (
        "letters that lack an answer in their first block, or ask for what is done",
        (f"{len(read.faults)}"),
    )


def _progress(seed: int, n: int, of: int, one: ReadLetters, began: float) -> str:
    """One winter in a line, and how long all that are left may take."""
    spent_min = (time.monotonic() - began) / 60.0
    return (
        f"winter {seed}, {n} of {of}: {one.letters['operator'] / one.weeks:.2f} letters a week to"
        f" the operator, {len(one.faults)} faults; {spent_min:.1f} min, some"
        f" {spent_min / n * (of - n):.0f} left"
    )


def main() -> int:
    """Print the figures, and each fault; fail where there is one."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=seeds_from, default=seeds_from("201-230"))
    parser.add_argument("--craft", type=int, default=12, help="in each yard")
    parser.add_argument("--days", type=float, default=60.0, help="from 1 November on")
    parser.add_argument("--every", type=float, default=360.0, help="minutes between rounds")
    parser.add_argument("--workers", type=int, default=1, help="processors")
    chosen = parser.parse_args()
    began, total = time.monotonic(), ReadLetters()
    read = partial(read_winter, craft=chosen.craft, days=chosen.days, every_min=chosen.every)
    with ProcessPoolExecutor(chosen.workers) as pool:
        read_ones = pool.map(read, [(seed,) for seed in chosen.seeds])
        for n, (seed, one) in enumerate(zip(chosen.seeds, read_ones, strict=True), start=1):
            total.add(one)
            print(_progress(seed, n, len(chosen.seeds), one, began), file=sys.stderr, flush=True)
    rows = list(rows_of(total))
    width = max(len(name) for name, _ in rows)
    for name, figure in rows:
        print(f"{name:{width}}  {figure}")
    for fault in total.faults:
        print(f"  {fault}")
    print(f"{(time.monotonic() - began) / 60.0:.1f} min", file=sys.stderr)
    return 1 if total.faults else 0


if __name__ == "__main__":
    sys.exit(main())
