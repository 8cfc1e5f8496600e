"""``laidup verify``: whether the lay-up record in the store is what was written."""

import argparse
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from monitor.commands.printing import print_json
from monitor.commands.progress import Progress
from monitor.craft.breaks import Break
from monitor.craft.merkle import RecordHead
from monitor.errors import QuantityError
from monitor.settings.load import load_settings
from monitor.wording import Wording
from monitor.yard.readers import words_for

if TYPE_CHECKING:
    from monitor.store.transaction import Transaction
    from monitor.store.verifying import Verified
    from monitor.store.verifying_days import DaysVerified

_BRIEF_WITHIN = timedelta(seconds=3)  # what `status` and `check` give it


def run(arguments: argparse.Namespace) -> int:
    """Check and tell; 0 if the record is whole, 1 if it is broken."""
    if arguments.file is not None:
        from monitor.commands.verify_file import run as run_on_file

        return run_on_file(arguments)
    if arguments.key:
        raise QuantityError("--key is of a season record's file", "name that FILE too")
    from monitor.store.store import Store
    from monitor.store.verifying import verify_photos, verify_record
    from monitor.store.verifying_days import verify_days

    kept = [RecordHead.parse(text) for text in arguments.head]
    settings = load_settings(arguments.config)
    store = Store(settings.store_url, settings.yard.id, only_looking=True)
    store.use_archive(settings.archive)
    with Progress() as progress, closing(store), store.snapshot() as tx:
        found = verify_record(tx, kept)
        found = replace(found, breaks=(*found.breaks, *verify_photos(tx)))
        days = verify_days(
            tx, lambda n, of, name: progress.say_stage(f"Readings of sensor {n} of {of}: {name}")
        )
        names = {one.id: one.name for one in tx.layup.all_craft()}
    if arguments.json:
        print_json(_as_json(settings.yard.id, found, days, kept))
    else:
        now = found.left.at if found.left is not None else None
        wording = None if now is None else words_for(settings.yard, now)
        for line in _result_lines(settings.yard.name, found, kept, names, wording):
            print(line)
        for line in _day_lines(days):
            print(line)
    return 0 if found.whole and days.whole else 1


def check_briefly(tx: "Transaction") -> "Verified":
    """Check the record for a few seconds at most; `told_of_check` says what was found."""
    from monitor.store.verifying import verify_record

    return verify_record(tx, within=_BRIEF_WITHIN)


def told_of_check(tx: "Transaction", found: "Verified") -> str:
    """Whether the record holds as far as it was checked, in one sentence."""
    if found.whole:
        some = "" if found.checked == found.craft else f" the first {found.checked} of"
        return f"the lay-up record is whole:{some} {found.craft} craft, {found.links} links." + (
            "" if not some else " `laidup verify` takes the time for all."
        )
    names = {one.id: one.name for one in tx.layup.all_craft()}
    more = len(found.breaks) - 1
    rest = f" And {more} more." if more else ""
    return (
        f"the lay-up record is not what was written. {_break_line(found.breaks[0], names)}.{rest}"
        " `laidup verify` says all of it, and what to do."
    )


def _result_lines(
    yard: str,
    found: "Verified",
    kept: list[RecordHead],
    names: Mapping[str, str],
    wording: Wording | None,
) -> Iterator[str]:
    state = "whole" if found.whole else "BROKEN"
    yield f"{yard}: {found.craft} craft, {found.links} links: the lay-up record is {state}."
    for one in found.breaks:
        known = "" if one.known_since is None else f" Marked since {one.known_since:%Y-%m-%d}."
        yield f"  {_break_line(one, names)}.{known} {one.remedy}"
    if found.taken_over:
        since = "" if found.taken_over_at is None else f" on {found.taken_over_at:%Y-%m-%d}"
        yield (
            f"{found.taken_over} moves and craft rows were taken over as they stood{since}: what"
            " became of them before that nothing shows."
        )
    unfit = {one.part for one in found.breaks}
    for head in kept:
        if f"head {head.short}" not in unfit:
            yield f"The head {head.short} fits: the first {head.count} links are as they were."
    if found.head is not None:
        yield f"Its head now: {found.head.short}"
    if found.left is None or wording is None:
        yield "No head has left yet: with the first mail or post one will."
    else:
        left = found.left
        yield (
            f"The newest that left: {_short_head(left.head)}, {wording.date(left.at)}"
            f" {wording.clock(left.at)}, by {left.channel} to {left.person or 'the receiver'}."
        )


def _day_lines(days: "DaysVerified") -> Iterator[str]:
    if not days.days:
        yield "No day is closed yet: of its readings nothing can be told."
        return
    state = "as they were when it was closed" if days.whole else "NOT WHAT THEY WERE"
    counted = f"{days.days:,} closed days, {days.sensors:,} sensors, {days.hours:,} of their hours"
    yield f"Readings: {counted}: {state}."
    for file, hours in days.archived.items():
        yield f"  {hours:,} of these hours are no longer in the store: {file} has them so."
    for one in days.breaks:
        yield f"  {one.words}. {one.remedy}"
    for words in days.archive_faults:
        yield f"  Hours that are gone were looked for in the archive. {words}."


def _short_head(text: str) -> str:
    """A head of the outbox as mails show it; what is none, as it stands."""
    try:
        return RecordHead.parse(text).short
    except QuantityError:
        return text


def _break_line(one: Break, names: Mapping[str, str]) -> str:
    if not one.craft:
        return one.words
    return f"{names.get(one.craft, 'Craft')} ({one.craft}): {one.words}"


def _as_json(
    yard: str, found: "Verified", days: "DaysVerified", kept: list[RecordHead]
) -> dict[str, Any]:
    unfit = {one.part for one in found.breaks}
    left = found.left
    return {
        "yard": yard,
        "whole": found.whole and days.whole,
        "days": {
            "closed": days.days,
            "sensors": days.sensors,
            "hours": days.hours,
            "archived": {str(file): hours for file, hours in days.archived.items()},
            "archive_faults": list(days.archive_faults),
        },
        "craft": found.craft,
        "links": found.links,
        "taken_over": found.taken_over,
        "head": None if found.head is None else str(found.head),
        "newest_head_left": None
        if left is None
        else {
            "head": left.head,
            "at": left.at.isoformat(),
            "person": left.person,
            "channel": left.channel,
        },
        "kept": [{"head": str(one), "fits": f"head {one.short}" not in unfit} for one in kept],
        "breaks": [
            {
                "craft": one.craft or None,
                "part": one.part,
                "what": str(one.what),
                "number": one.number,
                "words": one.words,
                "remedy": one.remedy,
                "known_since": None if one.known_since is None else one.known_since.isoformat(),
            }
            for one in (*found.breaks, *days.breaks)
        ],
    }
