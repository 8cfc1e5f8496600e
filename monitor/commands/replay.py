"""``laidup replay``: a past stretch judged again, told as its changes of standing."""

import argparse
import contextlib
import json
import math
import sys
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from monitor.commands.opening import at_time, open_read_only
from monitor.commands.printing import print_table
from monitor.commands.progress import Progress
from monitor.errors import LaidupError, QuantityError
from monitor.phrases.figures import figures_of
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import Names
from monitor.units import DURATION, json_number, parse_quantity
from monitor.wording import SI, Wording, listed_first
from monitor.yard.space import Yard

if TYPE_CHECKING:
    from monitor.replay import ReplayedChange

_SHORTEST, _LONGEST = timedelta(minutes=1), timedelta(days=1)
_NAMED = 3  # craft named in one row; the rest are counted


def run(arguments: argparse.Namespace) -> int:
    """Judge again and tell."""
    from monitor.replay import Replay

    every = _parse_step(arguments.every)
    with (
        open_read_only(arguments) as here,
        _open_output(arguments.out) as out,
        Progress() as progress,
    ):
        yard = here.yard
        since = at_time(arguments.since, yard, "--from")
        until = at_time(arguments.until, yard, "--to")
        if until > datetime.now(UTC):
            raise QuantityError(f"--to {arguments.until}: lies ahead, nothing was read there yet")
        if since >= until:
            raise QuantityError(f"--from {arguments.since}: must be before --to")
        replay = Replay(here.store, yard, here.profiles, every)
        changes = _worth_telling(_show_progress(replay.run(since, until), progress, yard))
        if arguments.json:
            for change in changes:
                print(as_json(change, yard), file=out)
        else:
            count = print_changes(changes, yard, out)
            print(
                f"{yard.name}, {_day_text(since, yard)} to {_day_text(until, yard)}: {count}"
                " changes of"
                f" standing. Judged {replay.rounds} times; nothing in the store was touched.",
                file=out,
            )
    return 0


def _show_progress(
    changes: Iterable["ReplayedChange"], progress: Progress, yard: Yard
) -> Iterator["ReplayedChange"]:
    """The same changes, the day that they are of on stderr while the next is judged."""
    progress.say_stage("Judging again")
    for change in changes:
        progress.wipe_line()
        yield change
        progress.say_stage(f"Judged up to {change.judged.at.astimezone(yard.zone):%a %d %b %H:%M}")


def as_json(change: "ReplayedChange", yard: Yard) -> str:
    """One change as a line of JSON: SI, the unit in the key, UTC; null is not known."""
    a = change.judged
    names = Names.of(yard, [] if change.craft is None else [change.craft])
    words = Wording(zone=yard.zone, now=a.at, units=SI)
    return json.dumps(
        {
            "at": _utc_text(a.at),
            "hazard": a.hazard,
            "space": a.subject.space,
            "craft": a.subject.craft or None,
            "part": a.subject.part or None,
            "was": change.was,
            "standing": a.standing,
            "now_c": json_number(a.now_c, 3),
            "low_c": json_number(a.low_c, 3),
            "low_at": _utc_text(a.low_at),
            "limit_c": json_number(a.limit_c, 3),
            "burst_c": json_number(a.burst_c, 3),
            "margin_k": json_number(a.margin_k, 3),
            "deadline": _utc_text(a.deadline),
            "ends": _utc_text(a.ends),
            "urgency": a.urgency,
            "severity": a.severity,
            "certainty": a.certainty,
            "basis": basis_text(a, names, words),
            "act": act_text(a, names, words) or None,
            "figures": {name: json_number(value, 3) for name, value in figures_of(a).items()},
        }
    )


def print_changes(changes: Iterable["ReplayedChange"], yard: Yard, out: TextIO) -> int:
    """Print a table a day, and tell how many changes there were."""
    from rich.table import Table

    from monitor.phrases.standings import standing_words
    from monitor.yard.readers import words_for

    count = 0
    for day, of_day in groupby(changes, key=lambda change: _day_text(change.judged.at, yard)):
        table = Table("Time", "Space", "What", "Was", "Is", "Numbers", title=day)
        for alike in _group_changes(of_day):
            first, a = alike[0], alike[0].judged
            count += len(alike)
            table.add_row(
                f"{a.at.astimezone(yard.zone):%H:%M}",
                yard.space(a.subject.space).name,
                _change_words(alike),
                "" if first.was is None else standing_words(first.was, a.hazard),
                standing_words(a.standing, a.hazard),
                _worst_numbers(alike, words_for(yard, a.at)),
            )
        print_table(table, out)
    return count


def _group_changes(changes: Iterable["ReplayedChange"]) -> Iterator[list["ReplayedChange"]]:
    """Changes of one moment, space and kind: a cold night is told in rows, not in hundreds."""
    for _, together in groupby(changes, key=lambda change: change.judged.at):
        rows: dict[tuple[object, ...], list[ReplayedChange]] = {}
        for each in together:
            a = each.judged
            key = (a.subject.space, a.hazard, _part_words(each), each.was, a.standing)
            rows.setdefault(key, []).append(each)
        yield from rows.values()


def _part_words(change: "ReplayedChange") -> str:
    from monitor.phrases.names import judged_part_name

    return judged_part_name(change.judged, change.craft)


def _change_words(alike: list["ReplayedChange"]) -> str:
    names = [each.craft.name for each in alike if each.craft is not None]
    if not names:
        return ", ".join(each.judged.subject.part or "air" for each in alike)
    return f"{_part_words(alike[0])} of {listed_first(names, _NAMED)}"


def _worst_numbers(alike: list["ReplayedChange"], wording: "Wording") -> str:
    """The numbers of the worst of them: the one with the least margin."""
    from monitor.phrases.numbers import numbers_in_line

    worst = min(
        (each.judged for each in alike),
        key=lambda a: math.inf if math.isnan(a.margin_k) else a.margin_k,
    )
    return numbers_in_line(worst, wording)


def _worth_telling(changes: Iterable["ReplayedChange"]) -> Iterator["ReplayedChange"]:
    """All but what stands well where the replay begins."""
    from monitor.phrases.standings import is_well

    return (each for each in changes if each.was or not is_well(each.judged))


@contextlib.contextmanager
def _open_output(path: Path | None) -> Iterator[TextIO]:
    if path is None:
        yield sys.stdout
        return
    try:
        file = path.open("w", encoding="utf-8")
    except OSError as error:
        raise LaidupError(f"--out {path}: {error.strerror}") from error
    with file:
        yield file


def _parse_step(text: str) -> timedelta:
    step = timedelta(hours=parse_quantity(text, DURATION))
    if not _SHORTEST <= step <= _LONGEST:
        raise QuantityError(f"--every {text}: a step lies between 1min and 24h")
    return step


def _day_text(at: datetime, yard: Yard) -> str:
    return f"{at.astimezone(yard.zone):%a %d %b %Y}"


def _utc_text(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat(timespec="seconds")
