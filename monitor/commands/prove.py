"""``laidup prove``: the yard's record stood through a winter that has not come yet."""

import argparse
import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

from monitor.commands.opening import Opened, at_time, open_read_only
from monitor.commands.printing import print_json, print_table, print_text
from monitor.commands.progress import Progress
from monitor.commands.streams import file_when_whole
from monitor.errors import QuantityError
from monitor.intake.weather_file import read_weather_file
from monitor.intake.winter_weather import lay_over_winter
from monitor.phrases.hard_winter import (
    answer_sentences,
    assumption_sentences,
    chance_words,
    craft_place,
    due_words,
    outcome_words,
    saving_job,
    space_sentence,
    spaces_in_use,
    standing_sentences,
    weather_words,
    winter_title,
)
from monitor.phrases.names import plain
from monitor.phrases.supplies import minutes_words
from monitor.prove import prove_winter, worst_past_winter
from monitor.reports.hard_winter.winter_json import hard_winter_json
from monitor.settings.faults import one_of
from monitor.units import TEMPERATURE_DIFFERENCE, parse_quantity
from monitor.wording import Wording
from monitor.yard.caution import NOT_LIFE_SAFETY_NOTE
from monitor.yard.hard_winter import HardWinter, WinterWeather, standard_zone, winter_ahead
from monitor.yard.space import WARM, Yard

_FORMS = (".pdf", ".json")
_MOST_COLDER_K = 25.0
_NOON = time(12)


def run(arguments: argparse.Namespace) -> int:
    """Stand the winter and tell."""
    out = _checked_out(arguments.out)
    with open_read_only(arguments) as here, Progress() as progress:
        now = datetime.now(UTC)
        since = None if arguments.since is None else at_time(arguments.since, here.yard, "--from")
        heat_off = dict(_heat_off(arguments.heater_off or (), here.yard, now, since))
        weather = _weather_of(arguments, here, now, since, progress)
        winter = prove_winter(
            here.store, here.yard, here.profiles, weather, now,
            heat_off=heat_off, tell=progress.say_stage,
        )  # fmt: skip
        words = replace(here.wording_for(as_json=False), now=Wording().now)
        if out is not None:
            progress.say_stage(f"Writing {out.name}")
            _write(winter, words, out, arguments.paper)
    if arguments.json:
        print_json(hard_winter_json(winter))
    else:
        print_winter(winter, words)
        if out is not None:
            print_text(f"Written: {out}")
    return 0


def _weather_of(
    arguments: argparse.Namespace,
    here: Opened,
    now: datetime,
    since: datetime | None,
    progress: Progress,
) -> WinterWeather:
    if (arguments.weather is None) != bool(arguments.own_winter):
        raise QuantityError(
            "--weather and --own-winter: one of the two says which winter it is",
            "give --weather FILE, or --own-winter for the worst that this yard has on record",
        )
    by_k = _colder_by(arguments.colder_by)
    begin, end = winter_ahead(now, here.yard, since)
    if end - begin < timedelta(days=1):
        raise QuantityError(
            f"--from {arguments.since}: the winter ends with {end:%-d %B}", "give an earlier day"
        )
    if arguments.own_winter:
        found = worst_past_winter(here.store, here.yard, now, begin, end, progress.say_stage)
    else:
        progress.say_stage(f"Reading {arguments.weather.name}")
        rows = read_weather_file(arguments.weather, standard_zone(here.yard))
        found = lay_over_winter(rows, here.yard, begin, end)
    return found.colder_by(by_k) if by_k else found


def _colder_by(said: str | None) -> float:
    if said is None:
        return 0.0
    by_k = parse_quantity(said, TEMPERATURE_DIFFERENCE)
    if not 0.0 <= by_k <= _MOST_COLDER_K:
        raise QuantityError(
            f"--colder-by {said}: no winter to test by",
            f"give 0K to {_MOST_COLDER_K:.0f}K, such as 3C or 5F",
        )
    return by_k


def _heat_off(
    said: Sequence[str], yard: Yard, now: datetime, since: datetime | None
) -> Iterator[tuple[str, datetime]]:
    """When the heat of which space fails; from the beginning where no day is given."""
    for each in said:
        name, _, day = each.partition("=")
        wanted = name.strip().casefold()
        warm = [one for one in yard.spaces if one.kind in WARM]
        space = next(
            (one for one in warm if wanted in {one.id.casefold(), one.name.casefold()}), None
        )
        if space is None:
            raise QuantityError(
                f"--heater-off {each}: no heated space {name.strip()!r}",
                one_of(name.strip(), [one.id for one in warm]),
            )
        at = at_time(day.strip(), yard, "--heater-off") if day else datetime.min.replace(tzinfo=UTC)
        if day and at.astimezone(yard.zone).time() == time():
            at = datetime.combine(at.astimezone(yard.zone).date(), _NOON, yard.zone)
        _, end = winter_ahead(now, yard, since)
        if at >= end:
            raise QuantityError(
                f"--heater-off {each}: the winter ends with {end:%-d %B %Y}", "give an earlier day"
            )
        yield space.id, at


def _checked_out(out: Path | None) -> Path | None:
    if out is not None and out.suffix.lower() not in _FORMS:
        raise QuantityError(
            f"--out {out}: its ending says no form of a report", f"end it in {' or '.join(_FORMS)}"
        )
    return out


def _write(winter: HardWinter, words: Wording, out: Path, paper: str | None) -> None:
    from monitor.reports.hard_winter.winter_pages import winter_pages
    from monitor.reports.season.record_pdf import write_record_pdf

    body = json.dumps(hard_winter_json(winter), ensure_ascii=False, indent=1).encode()
    if out.suffix.lower() == ".pdf":
        usual = "letter" if winter.yard.volume_unit == "fl oz" else "a4"
        body = write_record_pdf(winter_pages(winter, words), body, paper or usual)
    with file_when_whole(out) as part:
        part.write_bytes(body)


def print_winter(winter: HardWinter, words: Wording) -> None:
    """Print the answer first, then the work in its order, then on what it rests."""
    print_text(f"{winter_title(winter)}, made {words.day(winter.made_at)}.")
    print_text(weather_words(winter, words))
    print_text("")
    for sentence in answer_sentences(winter, words):
        print_text(sentence)
    _print_work(winter, words)
    stand = list(standing_sentences(winter, words))
    for sentence in stand:
        print_text(sentence)
    print_text("\nHow cold it gets, and how that is known:")
    for space in spaces_in_use(winter):
        print_text(f"  {space_sentence(space, winter, words)}", indent=2)
    print_text("\nIt rests on:")
    for sentence in assumption_sentences(winter, words):
        print_text(f"  {sentence}", indent=2)
    print_text(f"\nNothing in the store was touched. {NOT_LIFE_SAFETY_NOTE}")


def _print_work(winter: HardWinter, words: Wording) -> None:
    from rich.table import Table

    danger = [one for one in winter.craft if one.in_danger]
    if not danger:
        return
    table = Table(
        "Before the night of", "Craft", "Where", "This winter it", "How often", "What saves it",
        "Work", title="In this order",
    )  # fmt: skip
    for one in danger:
        table.add_row(
            due_words(one, winter),
            plain(one.craft.name),
            craft_place(one, winter),
            outcome_words(one, winter),
            chance_words(one),
            saving_job(one, words),
            minutes_words(one.minutes),
        )
    print_table(table)
