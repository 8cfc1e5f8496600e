"""``laidup access``: who may speak to the yard's broker, from its certificate to each device."""

import argparse
import re
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from monitor.commands.access.broker_users import BrokerUserEntry, UserKind, topics_of
from monitor.commands.access.certificates import (
    CERTIFICATE_DAYS,
    certificate_fingerprint,
    days_left,
    hosts_of,
)
from monitor.commands.access.folder import AUTHORITY_KEY, BrokerFolder, write_secret
from monitor.commands.access.sheet import Sheet, sheet_page, sheet_text
from monitor.commands.printing import print_json
from monitor.errors import ConfigurationError, Fault
from monitor.phrases.complaints import ID
from monitor.settings.faults import read_text_file
from monitor.settings.load import read_yard_file
from monitor.settings.new_yard import BROKER_PASSWORD, TLS_PORT, broker_values, toml_value
from monitor.settings.yard_file import YardContent

_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.:-]{0,251}[A-Za-z0-9])?")
_MOST_KEY_BYTES = 65536
_FOLDER = "broker"  # in the yard's own
PUT_IN_PLACE = "deploy/mosquitto/put-in-place.sh"


def begin_access(config: Path, hosts: list[str]) -> None:
    """Make all that a new yard's broker needs, beside the yard's file: for ``laidup init``."""
    _begin_in(config, config.parent / _FOLDER, hosts)


def check_host(host: str) -> str:
    """A name or address of a machine.

    Raises
    ------
    ConfigurationError
        If it cannot be one.
    """
    if not _HOST.fullmatch(host):
        problem = f"{host!r} is no name or address of a machine"
        remedy = "Write it like broker.yard.example or 192.0.2.10, without port."
        raise ConfigurationError(
            [Fault(file="laidup access", key="--host", problem=problem, remedy=remedy)]
        )
    return host


def begin_and_tell(arguments: argparse.Namespace) -> int:
    """Make authority, certificate and laidup's own password; tell what the yard's file needs."""
    _begin_in(arguments.config, _folder_path(arguments), arguments.host)
    here = arguments.config.resolve().parent
    yard = _content(arguments).yard.id
    at = _folder_path(arguments).resolve()
    shown = at.relative_to(here) if at.is_relative_to(here) else at
    print(f"Have this in [broker] of {arguments.config}:")
    for key, value in broker_values(yard, str(shown)).items():
        print(f"    {key} = {toml_value(value)}")
    return _tell_next(arguments)


def _begin_in(config: Path, path: Path, hosts: list[str]) -> None:
    yard = read_yard_file(config).yard
    # laidup itself and whoever tries it out speak to the broker from the same machine.
    own = ["localhost", "127.0.0.1"]
    named = list(dict.fromkeys([*map(check_host, hosts), *own]))
    password_file = config.resolve().parent / BROKER_PASSWORD
    password = BrokerFolder(path).begin_yard(yard.id, yard.name, named, datetime.now(UTC))
    password_file.parent.mkdir(mode=0o700, exist_ok=True)
    write_secret(password_file, password.encode())
    print(f"{path}: the yard's certificate authority, a certificate for {', '.join(named)}.")
    print(f"{password_file}: laidup's own password to the broker.")
    print(f"Keep {path / 'ca.key'} on a stick in a drawer: only renewals need it.")


def add_devices(arguments: argparse.Namespace) -> int:
    """Add the devices that are named, or that sensors stand behind, each with its sheet."""
    folder, content = _open(arguments)
    there = {user.name for user in folder.read_users().users}
    wanted = list(dict.fromkeys(arguments.users)) or [
        name
        for name in dict.fromkeys(sensor.user for sensor in content.sensors if sensor.user)
        if name not in there
    ]
    if not wanted:
        print("Every user that a sensor of the yard's file names is there; name another to add it.")
        return 0
    kind = UserKind.LAMP if arguments.lamp else UserKind.SENDER
    lamp = content.annunciator.topic if content.annunciator else f"{content.yard.id}/annunciator"
    for name in wanted:
        _check_user(name)
    for name in wanted:
        password = folder.add_user(name, kind, lamp if arguments.lamp else "", datetime.now(UTC))
        _write_sheet(folder, content, folder.user_named(name), password, show=arguments.show)
    return _tell_next(arguments)


def change_password(arguments: argparse.Namespace) -> int:
    """Give a device another password and sheet; laidup's own goes where it reads it."""
    folder, content = _open(arguments)
    user = folder.user_named(arguments.user)
    password = folder.change_password(user.name, datetime.now(UTC))
    if user.kind is UserKind.DAEMON:
        path = arguments.config.resolve().parent / BROKER_PASSWORD
        write_secret(path, password.encode())
        print(f"{path}: laidup's own password, new. Start laidup again once it is in place.")
    else:
        _write_sheet(folder, content, user, password, show=arguments.show)
    return _tell_next(arguments)


def revoke_device(arguments: argparse.Namespace) -> int:
    """Take one device's access away."""
    folder, content = _open(arguments)
    user = folder.user_named(arguments.user)
    if user.kind is UserKind.DAEMON:
        remedy = f"`laidup access new-password {user.name}` gives it another password."
        problem = "this is laidup itself: without it nobody watches"
        raise ConfigurationError(
            [Fault(file="laidup access", key=user.name, problem=problem, remedy=remedy)]
        )
    folder.revoke_user(user.name)
    print(f"{user.name} is no user any more, and its sheets are gone.")
    behind = [sensor.name for sensor in content.sensors if sensor.user == user.name]
    if behind:
        print(f"In the yard's file it still stands at {', '.join(behind)}: these will be silent.")
    return _tell_next(arguments)


def renew_certificate(arguments: argparse.Namespace) -> int:
    """Renew the broker's certificate."""
    folder, _ = _open(arguments)
    key = _authority_key(arguments, folder)
    hosts = [check_host(host) for host in arguments.host or hosts_of(folder.read_certificate())]
    named = list(dict.fromkeys([*hosts, "localhost", "127.0.0.1"]))
    folder.renew_certificate(key, named, datetime.now(UTC))
    print(f"A new certificate for {', '.join(named)}, for {CERTIFICATE_DAYS} days.")
    return _tell_next(arguments)


def certify_server(arguments: argparse.Namespace) -> int:
    """Make key and certificate of another server in the yard, such as the page's proxy."""
    folder, _ = _open(arguments)
    hosts = [check_host(host) for host in arguments.hosts]
    key, certificate = folder.certify_server(
        _authority_key(arguments, folder), hosts, datetime.now(UTC)
    )
    print(f"{certificate} and {key}: for {', '.join(hosts)}, for {CERTIFICATE_DAYS} days.")
    return 0


def _authority_key(arguments: argparse.Namespace, folder: BrokerFolder) -> bytes:
    if arguments.ca_key == "-":
        return sys.stdin.buffer.read(_MOST_KEY_BYTES)
    path = Path(arguments.ca_key) if arguments.ca_key else folder.path / AUTHORITY_KEY
    if not path.exists():
        problem = "the authority's key is not there"
        remedy = "Name the file where you keep it with --ca-key, or give it on stdin (--ca-key -)."
        raise ConfigurationError([Fault(file=str(path), key="", problem=problem, remedy=remedy)])
    return read_text_file(path).encode()


def list_users(arguments: argparse.Namespace) -> int:
    """List users, their topics, and when the certificate ends."""
    folder, _ = _open(arguments)
    now, certificate = datetime.now(UTC), folder.read_certificate()
    if arguments.json:
        print_json(_users_json(folder, days_left(certificate, now), hosts_of(certificate)))
        return 0
    print(f"Authority: SHA-256 {certificate_fingerprint(folder.read_authority())}")
    print(f"Broker: {', '.join(hosts_of(certificate))}; {days_left(certificate, now)} days left.")
    if (folder.path / AUTHORITY_KEY).exists():
        print(f"WARNING. {folder.path / AUTHORITY_KEY} lies on this machine: move it to a stick.")
    book = folder.read_users()
    for user in book.users:
        may = ", ".join(f"{access} {topic}" for access, topic in topics_of(user, book))
        left = [path.name for path in folder.sheet_files(user.name) if path.exists()]
        kept = f"; still here with its password: {', '.join(left)}" if left else ""
        print(f"{user.name}: {user.kind.value} since {user.made_on}, {may}{kept}")
    return 0


def _users_json(folder: BrokerFolder, days: int, hosts: Sequence[str]) -> dict[str, object]:
    """The same for machines; no password stands in it."""
    book = folder.read_users()
    return {
        "authority_sha256": certificate_fingerprint(folder.read_authority()),
        "authority_key_here": (folder.path / AUTHORITY_KEY).exists(),
        "broker_hosts": hosts,
        "certificate_days_left": days,
        "users": [
            {
                "user": user.name,
                "kind": user.kind.value,
                "made_on": str(user.made_on),
                "topics": [
                    {"access": access, "topic": topic} for access, topic in topics_of(user, book)
                ],
                "sheets_here": [
                    path.name for path in folder.sheet_files(user.name) if path.exists()
                ],
            }
            for user in book.users
        ],
    }


def _write_sheet(
    folder: BrokerFolder,
    content: YardContent,
    user: BrokerUserEntry,
    password: str,
    *,
    show: bool,
) -> None:

    spaces = {space.id: space.name for space in content.spaces}
    authority = folder.read_authority()
    [(_, topic)] = topics_of(user, folder.read_users())
    sheet = Sheet(
        yard_name=content.yard.name,
        user=user.name,
        kind=user.kind,
        host=hosts_of(folder.read_certificate())[0],
        port=content.broker.port if content.broker.tls else TLS_PORT,
        topic=topic.replace("#", "..."),
        password=password,
        sensors=[
            ", ".join(filter(None, (one.name, spaces.get(one.space), one.note)))
            for one in content.sensors
            if one.user == user.name
        ],
        authority=authority.decode(),
        fingerprint=certificate_fingerprint(authority),
        made_on=datetime.now(UTC).date(),
    )
    text = sheet_text(sheet)
    text_file, page_file = folder.write_sheet(user.name, text, sheet_page(sheet))
    print(f"{user.name}: {topic}. Its sheet: {page_file} to print, {text_file} to read.")
    if show:
        print(text)


def _check_user(name: str) -> None:
    """Raise where a name cannot be a broker's user, a level of topics and a file's name at once."""
    if not re.fullmatch(ID, name):
        problem = f"{name!r} is no user's name"
        remedy = "Use small letters, digits and hyphens: it stands in topics and file names."
        raise ConfigurationError(
            [Fault(file="laidup access", key="USER", problem=problem, remedy=remedy)]
        )


def _folder_path(arguments: argparse.Namespace) -> Path:
    own: Path | None = arguments.folder
    config: Path = arguments.config
    return own if own is not None else config.parent / _FOLDER


def _content(arguments: argparse.Namespace) -> YardContent:
    return read_yard_file(arguments.config)


def _open(arguments: argparse.Namespace) -> tuple[BrokerFolder, YardContent]:
    """The folder and the yard's file, which must be one yard's."""
    folder, content = BrokerFolder(_folder_path(arguments)), _content(arguments)
    kept = folder.read_users().yard
    if kept != content.yard.id:
        problem = f"it is of the yard {kept}, and {arguments.config} is of {content.yard.id}"
        remedy = "Name the right folder with --folder, or the right yard with --config."
        raise ConfigurationError(
            [Fault(file=str(folder.path), key="yard", problem=problem, remedy=remedy)]
        )
    return folder, content


def _tell_next(arguments: argparse.Namespace) -> int:
    print(f"Then, as root in the program's folder: sh {PUT_IN_PLACE} {_folder_path(arguments)}")
    return 0
