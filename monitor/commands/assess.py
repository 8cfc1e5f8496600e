"""``laidup assess``: how every space and craft stands, as a table or as JSON."""

import argparse
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from monitor.commands.opening import (
    at_time,
    daemon_clock,
    open_read_only,
    read_craft_in_care,
)
from monitor.commands.printing import open_console, print_table
from monitor.craft.stored import StoredCraft
from monitor.errors import QuantityError
from monitor.reports.picture import Picture, compose_picture, read_picture
from monitor.settings.load import origin_of
from monitor.store.store import Store
from monitor.yard.assessment import Assessment, Hazard, Origin, Subject
from monitor.yard.space import Yard

if TYPE_CHECKING:  # tables and words are loaded only where a table is printed
    from rich.table import Table

    from monitor.phrases.names import Names
    from monitor.wording import Wording

_SEASON = timedelta(days=300)  # far enough back to find what each circuit has been through


def run(arguments: argparse.Namespace) -> int:
    """Show the judgement."""
    origins: list[str] = []
    with open_read_only(arguments) as here:
        yard, now = here.yard, daemon_clock(here.store).now()
        at = now if arguments.at is None else _parse_time(arguments.at, yard, now)
        craft = read_craft_in_care(here, at)
        # What the daemon judged may rest on a record that it had not checked yet.
        if arguments.at is None and not any(one.unreadable for one in craft):
            with here.store.snapshot() as tx:
                picture = read_picture(tx, yard, craft, now)
        else:
            picture = judge_again(here.store, yard, craft, at)
        if arguments.at is not None:
            with here.store.snapshot() as tx:
                kept = tx.assessments.origins_between(at - _SEASON, at)
            origins = origin_lines(kept, craft, origin_of(here.settings))
    if arguments.json:
        from monitor.reports.account import account_json, account_of

        print(account_json(account_of(picture), indent=2).decode())
    else:
        show_picture(picture)
        for line in origins:
            print(line)
    return 0


def origin_lines(
    kept: Mapping[tuple[Hazard, Subject], Origin], craft: Sequence[StoredCraft], today: Origin
) -> list[str]:
    """What the standings on record for a moment were judged by, beside what judges it anew.

    Parameters
    ----------
    kept : mapping of Origin
        Of the last change of each subject.
    craft : sequence of StoredCraft
        With the profiles of today.
    today : Origin
        Program and settings of now.
    """
    profiles = {each.id: each.profile_digest for each in craft}
    names = {each.id: each.name for each in craft}
    counted = Counter(replace(origin, profile="") for origin in kept.values())
    lines = []
    for origin, count in counted.most_common():
        standings = "1 standing was" if count == 1 else f"{count} standings were"
        if not origin.program:
            lines.append(f"On record {standings} judged by an earlier laidup that kept no version.")
            continue
        same = "as now" if origin.settings == today.settings else f"now {today.settings}"
        program = "as now" if origin.program == today.program else f"now {today.program}"
        lines.append(
            f"On record {standings} judged by laidup {origin.program} ({program}) with settings"
            f" {origin.settings} ({same})."
        )
    changed = {
        (names[subject.craft], origin.profile)
        for (_, subject), origin in kept.items()
        if subject.craft in names and origin.profile and origin.profile != profiles[subject.craft]
    }
    lines += [
        f"The profile of {name} was {digest} then, and is another now."
        for name, digest in sorted(changed)
    ]
    return lines


def judge_again(store: Store, yard: Yard, craft: Sequence[StoredCraft], at: datetime) -> Picture:
    """Judge one moment from what the store holds up to then; nothing is written."""
    from monitor.clock import to_ms
    from monitor.judgement.air.grid import series_needed
    from monitor.judgement.judge import judge_yard
    from monitor.judgement.round import load_past_weeks

    memory = load_past_weeks(store, yard, at)
    until = to_ms(at) + 1
    with store.snapshot() as tx:
        traces = tx.readings.traces_between(series_needed(yard), until - 100 * 3_600_000, until)
        # What stood just before: the last change of each subject.
        before: dict[tuple[str, Subject], Assessment] = {
            (change.hazard, change.subject): change
            for change in tx.assessments.changes_between(at - _SEASON, at)
        }
    return compose_picture(
        yard, craft, judge_yard(yard, craft, traces, at, list(before.values()), memory), (), at
    )


def show_picture(picture: Picture) -> None:
    """Print what people ask first: the night, what to do, every craft."""
    from monitor.phrases.judgements import basis_text
    from monitor.phrases.names import Names
    from monitor.phrases.standings import is_well
    from monitor.reports.sentences import coldest, out_of_date, state_of_things
    from monitor.yard.readers import words_for

    wording = words_for(picture.yard, picture.at)
    names = Names.of(picture.yard, (one.craft for one in picture.craft))
    console = open_console()
    console.print(
        f"{picture.yard.name}, {wording.weekday(picture.at)}, {wording.clock(picture.at)}"
    )
    for sentence in (
        out_of_date(picture, wording),
        state_of_things(picture, wording),
        coldest(picture, wording),
    ):
        if sentence:
            console.print(sentence)
    print_table(_table_of_spaces(picture, wording))
    if picture.tasks:
        console.print("What to do, most urgent first:")
    for line in _task_lines(picture, names, wording):
        console.print(line)
    if picture.craft:
        print_table(_table_of_craft(picture, wording))
    for seen in picture.sensors:
        if not is_well(seen):
            basis = basis_text(seen, names, wording)
            console.print(f"Sensor {seen.subject.part}: {seen.standing}. {basis}")


def _table_of_spaces(picture: Picture, wording: "Wording") -> "Table":
    from rich.table import Table

    from monitor.phrases.figures import figures_of

    table = Table("Space", "Now", "Dew point", "Coming low", "About", "Below freezing from")
    for one in picture.spaces:
        air = one.air
        figures = figures_of(air)
        table.add_row(
            one.space.name,
            wording.temperature(figures.get("air_c", air.now_c)),
            wording.temperature(figures.get("dew_point_c", float("nan"))),
            wording.temperature(air.low_c),
            wording.clock(air.low_at),
            "already" if air.deadline and air.deadline <= air.at else wording.clock(air.deadline),
        )
    return table


def _task_lines(picture: Picture, names: "Names", wording: "Wording") -> Iterator[str]:
    from monitor.phrases.judgements import act_text
    from monitor.phrases.names import judged_part_name

    for task in picture.tasks:
        alone = task.craft[0] if len(task.craft) == 1 else None
        where = task.space.name if alone is None else alone.name
        by = f", by {wording.clock(task.by)}" if task.by and task.by > picture.at else ""
        yield f"  {where}{by}: {act_text(task.first, names, wording)}"
        if len(task.steps) > 1:
            more = "; ".join(judged_part_name(step, alone) for step in task.steps[1:])
            yield f"    and {len(task.steps) - 1} more there: {more}"


def _table_of_craft(picture: Picture, wording: "Wording") -> "Table":
    """One line for a craft that is well, else one for each part that is not."""
    from rich.table import Table

    from monitor.phrases.names import judged_part_name
    from monitor.phrases.numbers import numbers_in_line
    from monitor.phrases.standings import is_well, row_of

    table = Table("Craft", "Space", "Part", "Standing", "Numbers")
    for each in picture.craft:
        battery = [each.battery] if each.battery else []
        parts = [*each.circuits, *battery, *each.surfaces]
        unwell = [part for part in parts if not is_well(part)]
        heading = (each.craft.name, picture.yard.space(each.craft.space).name)
        for part in unwell or parts[:1]:
            table.add_row(
                *heading,
                judged_part_name(part, each.craft),
                row_of(part).word,
                numbers_in_line(part, wording),
            )
            heading = ("", "")
    return table


def _parse_time(text: str, yard: Yard, now: datetime) -> datetime:
    at = now if text == "now" else at_time(text, yard)
    if at > now:
        raise QuantityError(f"--at {text}: lies ahead, and nothing can be read from there")
    return at
