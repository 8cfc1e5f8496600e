"""``laidup check``: reads the configuration and tries all that it names, in words."""

import argparse
import os
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from monitor.clock import SystemClock, from_ms
from monitor.commands.check_broker import check_lamp_connection, check_watch_connection
from monitor.commands.printing import print_json
from monitor.commands.warnings import (
    list_page_risks,
    list_shared_files,
    list_silent_sensors,
    tell_certificate,
    tell_record_key,
)
from monitor.errors import (
    ArchiveError,
    ConfigurationError,
    ForecastError,
    LaidupError,
    StoreDamagedError,
    StoreError,
)
from monitor.settings.load import Settings, load_settings
from monitor.settings.new_yard import BROKER_CERTIFICATE
from monitor.wording import Units
from monitor.yard.readers import units_of
from monitor.yard.space import Yard

if TYPE_CHECKING:
    from monitor.delivery.pulse import PulseSettings
    from monitor.intake.forecast.settings import ForecastSettings
    from monitor.store.dropped_months import DroppedMonth
    from monitor.store.store import Store

_WAITS_FOR_STORE_S = 10.0  # for another writer; laidup's own take less


def run(arguments: argparse.Namespace) -> int:
    """Check and tell; 0 if all is well, 1 if something did not answer, 2 for a wrong file."""
    if arguments.payload is not None:
        from monitor.commands import check_payload

        return check_payload.run(arguments)
    settings = load_settings(arguments.config)
    if settings.craft_faults:
        raise ConfigurationError(list(settings.craft_faults))
    settings.read_mappings()  # raises what is wrong with one
    yard = settings.yard
    tries = _checks_to_try(settings)
    if arguments.json:
        found = [_try_one(name, attempt) for name, attempt in tries]
        print_json(
            {
                "file": str(arguments.config),
                "yard": yard.id,
                "checks": [{"check": n, "holds": holds, "said": said} for n, holds, said in found],
            }
        )
        return 0 if all(holds for _, holds, _ in found) else 1
    print(
        f"{arguments.config}: {yard.name}, {_count_of(len(yard.spaces), 'space')},"
        f" {_count_of(len(yard.sensors), 'sensor')},"
        f" {_count_of(len(yard.people), 'person', 'people')},"
        f" {len(settings.craft)} craft in craft files, {len(settings.profiles)} profiles: no fault."
    )
    print(f"Units: {_list_units(yard)}")
    failed = 0
    for name, attempt in tries:
        _, holds, said = _try_one(name, attempt)
        failed += not holds
        print(f"{name}: {said}" if holds else f"{name}: FAILED. {said}", flush=True)
    return 1 if failed else 0


def _try_one(name: str, attempt: Callable[[], str]) -> tuple[str, bool, str]:
    """One check: its name, whether it holds, and what it says."""
    try:
        return name, True, attempt()
    except LaidupError as error:
        return name, False, str(error)


def _checks_to_try(settings: Settings) -> list[tuple[str, Callable[[], str]]]:
    """What there is to try, by its name."""
    tries: list[tuple[str, Callable[[], str]]] = [
        ("Watch", partial(_check_watch, settings)),
        ("Store", partial(_check_store, settings)),
        ("Record", partial(_check_record, settings)),
        ("Key", partial(tell_record_key, settings)),
        ("Berths", partial(_check_berths, settings)),
        ("Sensors", partial(list_silent_sensors, settings)),
        ("Files", partial(list_shared_files, settings)),
        ("Page", partial(list_page_risks, settings)),
        ("Clock", _check_clock),
        ("Broker", partial(check_watch_connection, settings)),
        ("Mail", partial(_check_mail, settings)),
    ]
    certificate = settings.file.resolve().parent / BROKER_CERTIFICATE
    if certificate.exists():
        tries.append(("Certificate", partial(tell_certificate, certificate)))
    tries += [(n.capitalize(), partial(_check_channel, settings, n)) for n in settings.channels]
    if settings.backup is not None:
        tries.append(("Copies", partial(_check_copies, settings.backup.folder)))
    if settings.archive is not None or _dropped_months(settings):
        tries.append(("Archive", partial(_check_archive, settings)))
    if settings.ping is not None:
        tries.append(("Ping", partial(_check_pulse, settings.ping)))
    if settings.annunciator is not None:
        tries.append(("Lamp", partial(check_lamp_connection, settings, settings.annunciator)))
    if settings.forecast is not None:
        tries.append(("Forecast", partial(_check_forecast, settings.forecast, settings.yard)))
    return tries


def _check_watch(settings: Settings) -> str:
    from monitor.commands.status_lines import try_watch

    return try_watch(settings)


def _check_clock() -> str:
    from monitor.intake.clock_witnesses import kernel_synchronised

    kept = kernel_synchronised(datetime.now(UTC))
    if kept:
        return "a time service keeps this machine's clock right."
    why = "No time service keeps" if kept is False else "It is not known whether anything keeps"
    return (
        f"{why} this machine's clock right: enable systemd-timesyncd or chrony. Until then laidup"
        " relies on its sensors to tell when it is wrong, and those without a time of their own are"
        " stored by it."
    )


def _check_store(settings: Settings) -> str:
    from monitor.health.store_faults import remedy_of_refusal
    from monitor.phrases.own_condition import MEND, store_lines
    from monitor.store.engine import shown
    from monitor.store.mark import StoreMark
    from monitor.store.store import Store
    from monitor.store.store_file import REVISION, revision_of
    from monitor.store.upkeep import condition_of

    url, where = settings.store_url, shown(settings.store_url)
    StoreMark(settings.file).refuse_another(url, settings.yard.id)
    file = Path(url.removeprefix("sqlite:///"))
    if url.startswith("sqlite:///") and not file.exists():
        if not os.access(file.parent, os.W_OK | os.X_OK):
            raise StoreError(f"{where}: no file can be made in {file.parent}; make that folder")
        return f"{where} does not exist yet; `laidup run` makes it."
    found = revision_of(url)
    if found is None:
        return f"{where} is there and empty; `laidup run` makes its tables."
    if found != REVISION:
        return f"{where} has tables of revision {found}; `laidup run` brings them to {REVISION}."
    try:
        store = Store(url, settings.yard.id, busy_s=_WAITS_FOR_STORE_S)
        with closing(store):
            store.try_writing()
            condition = condition_of(store, datetime.now(UTC))
            _try_craft_files(store, settings)
            with store.snapshot() as tx:
                count = tx.yard_readings.count_readings()
    except StoreDamagedError as error:
        raise StoreError(f"its file is damaged ({error}). {MEND}") from error
    except StoreError as error:
        raise StoreError(f"{error}. {remedy_of_refusal(error)}") from error
    said = " ".join(store_lines(condition))
    if condition.damage or condition.full:
        raise StoreError(said)
    opens = f"{where} takes what is written and is sound"
    return f"{opens}; it holds {count} readings of this yard. {said}"


class _OnlyTriedError(Exception):
    """Ends the transaction of a trial, so that nothing of it is kept."""


def _try_craft_files(store: "Store", settings: Settings) -> None:
    """Take the craft files in as the daemon would, to see what refuses, and keep nothing."""
    from monitor.craft.revising import CRAFT_FILES
    from monitor.store.taking_in import take_in
    from monitor.yard.people import names_by_id

    with suppress(_OnlyTriedError), store.transaction() as tx:
        names, now = names_by_id(settings.yard), datetime.now(UTC)
        take_in(tx.layup, settings.craft, settings.profiles, now, CRAFT_FILES, names)
        raise _OnlyTriedError


def _check_record(settings: Settings) -> str:
    """Check for some seconds that the lay-up record is what was written."""
    from monitor.commands.verify import check_briefly, told_of_check
    from monitor.store.store import Store
    from monitor.store.store_file import has_current_tables

    if not has_current_tables(settings.store_url):
        return "there is none yet."
    store = Store(settings.store_url, settings.yard.id, only_looking=True)
    with closing(store), store.snapshot() as tx:
        found = check_briefly(tx)
        told = told_of_check(tx, found)
    if not found.whole:
        raise StoreError(told)
    return told


def _check_berths(settings: Settings) -> str:
    """Look for craft in one berth, by the record and by what the craft files add to it."""
    from monitor.commands.warnings import berth_faults
    from monitor.store.store import Store
    from monitor.store.store_file import has_current_tables

    now, records = datetime.now(UTC), {one.craft.id: one for one in settings.craft}
    if has_current_tables(settings.store_url):
        store = Store(settings.store_url, settings.yard.id, only_looking=True)
        with closing(store), store.snapshot() as tx:
            on_record = tx.layup.all_records(settings.profiles)
        for one in on_record:
            new = records.setdefault(one.craft.id, one)
            records[one.craft.id] = replace(new, stays=(*one.stays, *new.stays))
    faults = berth_faults(records.values(), settings.yard, now)
    if faults:
        raise ConfigurationError(faults)
    return f"{len(records)} craft, and no two that are here share one."


def _check_copies(folder: Path) -> str:
    if not folder.is_dir():
        raise StoreError(f"{folder} is no folder; make it, or mount its disk")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise StoreError(f"{folder}: this user may not write there; give it to laidup's user")
    return f"a nightly copy of the store goes to {folder}."


def _dropped_months(settings: Settings) -> "list[DroppedMonth]":
    """Months whose raw readings are in archive files; none where the store gives no answer."""
    from monitor.store.store import Store
    from monitor.store.store_file import has_current_tables

    with suppress(StoreError):
        if has_current_tables(settings.store_url):
            store = Store(settings.store_url, settings.yard.id, only_looking=True)
            with closing(store), store.snapshot() as tx:
                return tx.dropped_months.all_months()
    return []


def _check_archive(settings: Settings) -> str:
    """Read the files of dropped months, each as a whole."""
    from monitor.store.archive_folder import faults_of_dropped, months_in

    months, folder = _dropped_months(settings), settings.archive
    if folder is None:
        raise ArchiveError(
            f"raw readings of {len(months)} months up to {months[-1].month:%Y-%m} are in archive"
            " files alone, and [archive] folder names none: set it in the yard's file"
        )
    months_in(folder, settings.yard.id)  # raises where it cannot be read
    faults = list(faults_of_dropped(folder, settings.yard.id, months))
    if faults:
        raise ArchiveError(". ".join(faults))
    if not months:
        return f"{folder} is there; the store has all raw readings."
    begun = [one for one in months if one.dropped_at is None]
    more = (
        f" The drop of {begun[0].month:%Y-%m} was ended early: `laidup archive --drop` goes on."
        if begun
        else ""
    )
    return (
        f"raw readings of {_count_of(len(months), 'month')} up to {months[-1].month:%Y-%m} are in"
        f" {folder} alone, each file as it was. Have it in the backup.{more}"
    )


def _check_mail(settings: Settings) -> str:
    from monitor.delivery.channels.mail import check_mail

    if settings.folder is not None:
        return f"mails are written into {settings.folder.path}, none is sent."
    if settings.mail is None:
        return "none configured: nobody will be told anything. Add [mail] to the yard's file."
    return check_mail(settings.mail)


def _list_units(yard: Yard) -> str:
    """Who reads in what: the yard, and those who asked for units of their own."""
    readers: dict[str, list[str]] = {}
    for person in yard.people:
        own = units_of(yard, person)
        if own != units_of(yard):
            readers.setdefault(_units_name(own), []).append(person.name)
    others = "".join(f"; {', '.join(names)} in {units}" for units, names in readers.items())
    return f"the yard reads in {_units_name(units_of(yard))}{others}."


def _units_name(units: Units) -> str:
    return f"°{units.temperature} and {units.volume}"


def _check_channel(settings: Settings, name: str) -> str:
    from monitor.delivery.channels import CHANNEL_KINDS, mail_channel

    (kind,) = [each for each in CHANNEL_KINDS if each.name == name]
    by_mail = mail_channel(settings.mail, settings.folder)
    return kind.try_out(settings.channels[name], by_mail, settings.yard.name)


def _check_pulse(settings: "PulseSettings") -> str:
    from monitor.delivery.pulse import check_ping

    return check_ping(settings)


def _check_forecast(settings: "ForecastSettings", yard: Yard) -> str:
    """Ask the agency as the daemon would, into a store that goes away again."""
    from monitor.intake.forecast.fetch import ForecastFetch
    from monitor.store.migrate import migrate
    from monitor.store.store import Store

    source = str(settings.agency)
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/check.db"
        migrate(url)
        store = Store(url, yard.id)
        try:
            ForecastFetch(store, settings, SystemClock()).run_once()
            with store.snapshot() as tx:
                asking = tx.forecasts.asking_of(source)
                got = tx.forecasts.newest_issue(source, datetime.now(UTC))
        finally:
            store.close()
    if got is None:
        raise ForecastError(
            f"{source}: {asking.problem or 'no forecast came'}; check the [forecast] block and the"
            " yard's place, and whether this machine reaches the agency. Until it does, the"
            " yard's own readings alone make its forecast"
        )
    begin = got.issued.astimezone(yard.zone)
    until = from_ms(int(got.at_ms[-1])).astimezone(yard.zone)
    return f"{source} gave one of {begin:%a %H:%M} that goes to {until:%a %H:%M}."


def _count_of(count: int, one: str, more: str = "") -> str:
    return f"{count} {one if count == 1 else more or one + 's'}"
