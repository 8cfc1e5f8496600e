"""What commands warn of without failing: shared berths, silent sensors, readable secrets."""

import stat
from collections.abc import Iterable
from contextlib import closing
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from urllib.parse import urlsplit

from monitor.craft.berths import shared_berths
from monitor.craft.record import CraftRecord
from monitor.craft.signing_key import fingerprint_of
from monitor.errors import Fault
from monitor.reports.season.pdf_signature import NOT_INSTALLED, can_sign
from monitor.settings.load import Settings, program_around
from monitor.settings.pdf_key import load_pdf_identity, pdf_identity_line
from monitor.settings.record_key import (
    KEY_FILE,
    PDF_KEY_FILE,
    is_first_key,
    load_record_key,
    read_successions,
)
from monitor.settings.yard_file import OLD_WAY_IN
from monitor.wording import listed
from monitor.yard.readers import words_for
from monitor.yard.space import Yard

_FOR_OTHERS = stat.S_IROTH | stat.S_IWOTH


def list_silent_sensors(settings: Settings) -> str:
    """Which sensors are silent, by what is stored: a silent one is an alarm while laidup runs."""
    from monitor.health.store_seen import read_store
    from monitor.store.store import Store
    from monitor.store.store_file import has_current_tables

    if not has_current_tables(settings.store_url):
        return "none was heard yet: there is no store."
    if not settings.yard.sensors:
        return (
            "WARNING. The yard has no sensor yet, so nothing is watched. Take in what is heard at"
            " its page (/yard)."
        )
    now = datetime.now(UTC)
    store = Store(settings.store_url, settings.yard.id, only_looking=True)
    with closing(store):
        seen = read_store(store, settings.yard, now, None)
        with store.snapshot() as tx:
            heard = {sensor for sensor, _ in tx.yard_readings.latest_readings()}
    never = {sensor.name for sensor in settings.yard.sensors} - heard
    lines = []
    if never:
        lines.append(
            f"WARNING. Never heard: {', '.join(sorted(never))}. Compare their names in the yard's"
            " file with what they send (`laidup status` shows what was kept aside)."
        )
    silent = sorted(set(seen.silent) - never)
    if silent:
        lines.append(
            f"WARNING. Silent when last judged: {', '.join(silent)}. Look at their power and their"
            " radio."
        )
    return " ".join(lines) or f"all {len(heard)} were heard, and none was silent when last judged."


def has_signed_letters(settings: Settings) -> bool:
    """Whether letters have left that carry a head of the record, so that there was a key.

    A store that still has to be brought to this program's tables is not asked: letters of a program
    that knew of no key would count.
    """
    from monitor.store.store import Store
    from monitor.store.store_file import has_current_tables

    if not has_current_tables(settings.store_url):
        return False
    store = Store(settings.store_url, settings.yard.id, only_looking=True)
    with closing(store), store.snapshot() as tx:
        return tx.outbox.newest_head() is not None


def tell_record_key(settings: Settings) -> str:
    """Which key signs heads and season records, and who may read it.

    Raises
    ------
    ConfigurationError
        If it is gone, if others may read it, or if it is no key.
    """
    folder = settings.file.parent
    file = folder / KEY_FILE
    if is_first_key(folder, partial(has_signed_letters, settings)):
        return (
            f"there is none yet; `laidup run` makes {file} at its start, and so does `laidup key`."
        )
    public = load_record_key(folder).public
    earlier = len(read_successions(folder, settings.yard.id))
    before = f", behind {earlier} earlier" if earlier else ""
    mode = f"{stat.S_IMODE(file.stat().st_mode):03o}"
    said = f"{file} (mode {mode}), fingerprint {fingerprint_of(public)}{before}. Keep a copy of it."
    if not can_sign():
        return f"{said} PDFs bear no signature of their own: {NOT_INSTALLED}."
    bought = settings.bought_certificate
    if bought is None and not (folder / PDF_KEY_FILE).exists():
        return f"{said} The first PDF of a record makes {PDF_KEY_FILE}, which signs it."
    identity = load_pdf_identity(folder, settings.yard.name, bought, datetime.now(UTC))
    return f"{said} {pdf_identity_line(identity)}"


def list_page_risks(settings: Settings) -> str:
    """Who is asked at the page who they are, and what of its settings lets others in."""
    from monitor.web.access.callers import is_loopback

    web = settings.web
    if not web.enabled:
        return "it is not served."
    warnings = []
    if web.names_token:
        warnings.append(f"WARNING. {OLD_WAY_IN}")
    if web.access == "open":
        return " ".join(["nobody is asked who they are; it only shows.", *warnings])
    https = (web.address or "").startswith("https://")
    reached_at = urlsplit(web.address or "").hostname or web.host
    if not https and not (is_loopback(reached_at) and is_loopback(web.host)):
        warnings.append(
            "WARNING. Passwords travel in the clear: put a proxy with TLS before it, and write its"
            " https:// address into [web] (docs/page.md)."
        )
    if https and not web.proxies:
        warnings.append(
            "WARNING. All callers seem to come from the proxy, so one who guesses slows down all:"
            ' write proxies = ["127.0.0.1"], its address, into [web].'
        )
    return " ".join([_who_can_sign_in(settings), *warnings])


def _who_can_sign_in(settings: Settings) -> str:
    from monitor.store.store import Store
    from monitor.store.store_file import has_current_tables

    if has_current_tables(settings.store_url):
        store = Store(settings.store_url, settings.yard.id, only_looking=True)
        with closing(store), store.snapshot() as tx:
            if tx.sign_ins.people_with_password():
                return "people sign in; `laidup access issued` lists who can."
    return (
        "nobody has a password yet: `laidup access invite NAME` sends or shows a link to set one."
    )


def list_shared_files(settings: Settings) -> str:
    """Which files with secrets or addresses others may read, or go with the program's folder."""
    from monitor.store.store_file import file_of

    database = file_of(settings.store_url)
    kept = [*settings.secret_files, *([database] if database is not None else [])]
    shared = [file for file in kept if file.exists() and file.stat().st_mode & _FOR_OTHERS]
    inside = [file for file in kept if program_around(file) is not None]
    warnings = []
    if shared:
        warnings.append(
            f"WARNING. Everybody on this machine may read {_paths(shared)}: chmod o= them. The"
            " store holds people's addresses, and the links by which they answer."
        )
    if inside:
        warnings.append(
            f"WARNING. {_paths(inside)}: inside the program's own folder, which an upgrade"
            " replaces. Move the yard's folder out of it, to /srv/laidup, and name it with"
            " --config."
        )
    good = "those with secrets and the store are this user's and its group's alone."
    return " ".join(warnings) or good


def _paths(files: Iterable[Path]) -> str:
    return ", ".join(str(file) for file in files)


def tell_certificate(certificate: Path) -> str:
    """Until when the broker's certificate holds, which every device checks."""
    from monitor.commands.access.certificates import RENEW_WITHIN_DAYS, days_left
    from monitor.settings.faults import read_text_file

    left = days_left(read_text_file(certificate).encode(), datetime.now(UTC))
    if left >= RENEW_WITHIN_DAYS:
        return f"it holds for {left} days."
    when = f"ends in {left} days, and then" if left >= 0 else "has ended:"
    return (
        f"WARNING. {certificate} {when} no device reaches the broker any more. Renew it with"
        " `laidup access renew-certificate`, and put it in place (deploy/INSTALL.md)."
    )


def berth_faults(records: Iterable[CraftRecord], yard: Yard, at: datetime) -> list[Fault]:
    """One fault for each berth that holds more than one craft; all of them go on being judged."""
    wording, names = words_for(yard, at), {space.id: space.name for space in yard.spaces}
    return [
        Fault(
            file="lay-up record",
            key=f"{one.space}/{one.berth}",
            problem=f"{listed([f'{craft.name} ({craft.id})' for craft in one.craft])} share this"
            f" berth of {names.get(one.space, one.space)} since {wording.clock(one.since)}; each"
            " is judged as standing there",
            remedy="Look who does, and enter for the other where it stands with `laidup layup move"
            " CRAFT SPACE/BERTH --by NAME`, or when it left as `left` in its craft file.",
        )
        for one in shared_berths(records, at)
    ]
