"""``laidup status``: is laidup well, what does it hear, what waits, in sentences."""

import argparse
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from monitor.commands.jobs import job_states, print_jobs
from monitor.commands.opening import Opened, daemon_clock, open_read_only, tell_unbelievable
from monitor.commands.printing import print_json
from monitor.commands.status_json import status_json
from monitor.commands.status_lines import calibration_lines, clock_lines, watch_lines
from monitor.commands.verify import check_briefly, told_of_check
from monitor.craft.stored import StoredCraft
from monitor.intake.sensors import UNKNOWN_SENSOR
from monitor.judgement.inputs import craft_in_care
from monitor.phrases.alarm_lines import headline_text
from monitor.phrases.backlog import backlog_line
from monitor.phrases.figures import figures_of
from monitor.phrases.intake_faults import fault_line
from monitor.phrases.names import ALARM_STATE
from monitor.phrases.own_condition import store_lines
from monitor.reports.alarm_groups import pressing_first, tally
from monitor.reports.alarm_rates import alarm_figures, rate_lines
from monitor.reports.sentences import out_of_date, state_of_things
from monitor.store.aside import AsideRow
from monitor.store.store import Store
from monitor.store.upkeep import condition_of
from monitor.store.verifying import Verified
from monitor.wording import Wording
from monitor.yard.alarm import Alarm, AlarmState
from monitor.yard.assessment import Assessment
from monitor.yard.forecast import STALE_AFTER, ForecastAsking
from monitor.yard.readers import words_for
from monitor.yard.reading import Channel, Reading
from monitor.yard.space import Sensor, Yard

_ASIDE_SHOWN = 5
_ALARMS_SHOWN = 10
_FILE = "sqlite:///"
_SAID: dict[Channel, Callable[[float], str]] = {
    Channel.HUMIDITY: lambda value: f"{value:.0f} % RH",
    Channel.VOLTAGE: lambda value: f"{value:.2f} V",
    Channel.CURRENT: lambda value: f"{value:.2f} A",
    Channel.CHARGE: lambda value: f"{value:.0f} % charged",
    Channel.MAINS: lambda value: "mains on" if value else "no mains",
    Channel.SENSOR_BATTERY: lambda value: f"own battery {value:.0f} %",
}


def run(arguments: argparse.Namespace) -> int:
    """Tell how laidup fares; 1 if the lay-up record is not what was written, else 0."""
    with open_read_only(arguments) as here:
        now = daemon_clock(here.store).now()
        if arguments.json:
            whole, answer = status_json(here, now)
            print_json(answer)
            return 0 if whole else 1
        for line in watch_lines(here.settings, now):
            print(line)
        check, told, craft = _read_checked_craft(here, now)
        for line in status_lines(here.store, here.yard, craft, now):
            print(line)
        if here.settings.forecast is not None:
            with here.store.snapshot() as tx:
                asking = tx.forecasts.asking_of(str(here.settings.forecast.agency))
            print(forecast_line(asking, words_for(here.yard, now), now))
        print(f"{told[:1].upper()}{told[1:]}")
        print_jobs(job_states(here.settings, here.store), words_for(here.yard, now))
        print(_store_size(here.settings.store_url))
        for line in store_lines(condition_of(here.store, now, check=False)):
            print(line)
    return 0 if check.whole else 1


def _read_checked_craft(
    here: Opened, now: datetime
) -> tuple[Verified, str, tuple[StoredCraft, ...]]:
    """What a brief check of the record found, the same in a sentence, and the craft in care.

    Every chain is checked once: again for the craft only where the check found a break or had no
    time for all. Of craft whose record cannot be believed stderr says so.
    """
    with here.store.snapshot() as tx:
        check = check_briefly(tx)
        told = told_of_check(tx, check)
        records = tx.layup.all_records(
            here.profiles, check_chains=True, found_whole=check.every_chain_holds
        )
    for record in records:
        if record.unreadable:
            tell_unbelievable(record)
    return check, told, craft_in_care(records, here.yard, now)


def status_lines(
    store: Store, yard: Yard, craft: Sequence[StoredCraft], now: datetime
) -> Iterator[str]:
    """Everything worth telling, sentence by sentence."""
    from monitor.reports.backlog import work_of_backlog
    from monitor.reports.picture import read_picture

    wording = words_for(yard, now)
    with store.snapshot() as tx:
        picture = read_picture(tx, yard, craft, now)
        latest = tx.yard_readings.latest_readings()
        count = tx.yard_readings.count_readings()
        clocks = tx.sensor_clocks.wrong_clocks()
        faults = tx.intake_faults.standing_faults()
        aside, aside_total = tx.aside.newest_by_topic(_ASIDE_SHOWN), tx.aside.count_messages()
        rates = alarm_figures(tx, now - timedelta(days=7), now)
        waiting, next_due = tx.outbox.count_by_outcome(), tx.outbox.next_due()
    yield f"{yard.name}, {wording.weekday(now)}, {wording.clock(now)}."
    warning = out_of_date(picture, wording)
    if picture.judged_at and not warning:
        yield f"Last judged {_age_words(picture.judged_at, now)}."
    yield warning or state_of_things(picture, wording)

    yield from _unreadable_lines(craft)
    left = work_of_backlog(craft, yard, now)
    if left.count:
        yield backlog_line(left.count, left.in_care, left.finish)
    yield from _alarm_lines(picture.alarms, now, wording)

    for space in picture.spaces:
        yield from low_error_lines(space.air, space.space.name, wording)

    yield from _reading_lines(yard, latest, count, wording, now)
    yield from (fault_line(fault) for fault in faults.values() if fault.is_current(now))
    yield from clock_lines(clocks, yard, wording)
    yield from calibration_lines(yard, now.astimezone(yard.zone).date())

    yield from _aside_lines(aside, aside_total, wording)
    if picture.alarms or rates.raised:
        yield "Alarms over the last week:"
        yield from (f"  {line}" for line in rate_lines(rates, yard, wording))
    due = f", the next due {wording.clock(next_due)}" if next_due else ""
    yield (
        f"Messages: {waiting.get('waiting', 0)} waiting{due}, {waiting.get('taken', 0)} delivered,"
        f" {waiting.get('refused', 0)} refused."
    )


def _unreadable_lines(craft: Iterable[StoredCraft]) -> Iterator[str]:
    for one in craft:
        if one.unreadable:
            yield (
                f"{one.name} ({one.id}) is judged as not laid up at all: its record cannot be"
                f" read. {one.unreadable}."
            )


def _reading_lines(
    yard: Yard,
    latest: dict[tuple[str, Channel], Reading],
    count: int,
    wording: Wording,
    now: datetime,
) -> Iterator[str]:
    """How many readings there are, what each sensor said last, and who is in no file."""
    newest = max(latest.values(), key=lambda reading: reading.at_ms, default=None)
    if newest is None:
        yield "No reading has ever come in. `laidup check` tries the broker."
    else:
        yield f"{count} readings are stored; the newest came {_age_words(_time_of(newest), now)}."
    for sensor in yard.sensors:
        yield _sensor_line(sensor, yard, latest, wording, now)
    strangers = sorted({name for name, _ in latest} - {sensor.name for sensor in yard.sensors})
    if strangers:
        yield f"Stored, but no longer in the yard's file: {', '.join(strangers)}."


def _aside_lines(aside: Sequence[AsideRow], total: int, wording: Wording) -> Iterator[str]:
    if total:
        yield f"{total} messages could not be used and are kept aside; the latest:"
    for row in aside:
        times = f", {row.times} times" if row.times > 1 else ""
        yield f"  {wording.clock(row.last_at)} {row.topic!r}: {row.reason}{times}"
    if any(UNKNOWN_SENSOR in row.reason for row in aside):
        yield (
            "Sensors send that the yard does not know. Say where each hangs at the page, under"
            " /yard/sensors, or in the yard's file."
        )


def _alarm_lines(alarms: Sequence[Alarm], now: datetime, wording: Wording) -> Iterator[str]:
    """How many alarms are open, and those that wait for a person, the most pressing first."""
    counted = f": {tally(alarms)}" if alarms else ""
    yield f"{len(alarms) or 'No'} alarm{'s' * (len(alarms) != 1)} open{counted}."
    shown = [a for a in pressing_first(alarms, now) if a.state is not AlarmState.SUPPRESSED]
    for alarm in shown[:_ALARMS_SHOWN]:
        yield (
            f"  {headline_text(alarm, wording)} ({alarm.priority}; {ALARM_STATE[alarm.state]};"
            f" since {wording.clock(alarm.raised_at)})"
        )
    if len(shown) > _ALARMS_SHOWN:
        yield f"  And {len(shown) - _ALARMS_SHOWN} more, which `laidup alarms list` shows."


def low_error_lines(air: Assessment, name: str, wording: Wording) -> Iterator[str]:
    """How right tonight's lows have been in one space; nothing while too few nights are known."""
    figures = figures_of(air)
    if "low_error_k" not in figures:
        return
    told = (
        f"Tonight's low in {name}: over {figures['nights_checked']:.0f} past nights such forecasts"
        f" erred by {wording.difference(figures['low_error_k'])} on the mean"
    )
    if "persistence_error_k" in figures:
        again = wording.difference(figures["persistence_error_k"])
        told += f", the low of the night before by {again}"
    share = figures.get("public_share", 0.0)
    yield f"{told}; a public forecast counts for {share:.0%}." if share else f"{told}."


def forecast_line(asking: ForecastAsking, wording: Wording, now: datetime) -> str:
    """How old the public forecast is, and why it could not be renewed."""
    age = asking.age(now)
    if age is None or asking.confirmed is None:
        told = f"No public forecast has come from {asking.source} yet."
    else:
        told = f"The forecast of {asking.source} was up to date {_age_words(asking.confirmed, now)}"
        hours = STALE_AFTER // timedelta(hours=1)
        told += f": older than {hours} h, it is stale." if asking.stale(now) else "."
    if asking.problem:
        again = f" Asked again {wording.clock(asking.not_before)}." if asking.not_before else ""
        told += f" The last attempt failed: {asking.problem}.{again}"
    return told


def _sensor_line(
    sensor: Sensor,
    yard: Yard,
    latest: dict[tuple[str, Channel], Reading],
    wording: Wording,
    now: datetime,
) -> str:
    heard = [reading for (name, _), reading in latest.items() if name == sensor.name]
    where = f"  {sensor.name} ({yard.space(sensor.space).name})"
    if not heard:
        return f"{where}: never heard."
    said = ", ".join(
        wording.temperature(reading.value)
        if reading.channel is Channel.TEMPERATURE
        else _SAID[reading.channel](reading.value)
        for reading in sorted(heard, key=lambda reading: list(Channel).index(reading.channel))
    )
    last = max(_time_of(reading) for reading in heard)
    return f"{where}: {said}, {_age_words(last, now)}."


def _time_of(reading: Reading) -> datetime:
    return datetime.fromtimestamp(reading.at_ms / 1000, UTC)


def _age_words(at: datetime, now: datetime) -> str:
    away = now - at
    if away < timedelta(minutes=2):
        return "just now"
    if away < timedelta(hours=2):
        return f"{away.total_seconds() / 60:.0f} min ago"
    if away < timedelta(days=2):
        return f"{away.total_seconds() / 3600:.0f} h ago"
    return f"{away.days} days ago"


def _store_size(url: str) -> str:
    if not url.startswith(_FILE):
        return "The store is a PostgreSQL database."
    path = Path(url.removeprefix(_FILE))
    # The write-ahead log is part of the store until it is folded in.
    parts = (path, path.with_name(path.name + "-wal"))
    size = sum(part.stat().st_size for part in parts if part.exists())
    return f"The store is {path}, {size / 1e6:.1f} MB."
