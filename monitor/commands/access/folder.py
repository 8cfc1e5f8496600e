"""The folder of the yard's broker: certificates, users and what mosquitto reads, kept in step.

``users.json`` says who there is; the password file and the access list are written of it, whole, at
every change. All files are their user's alone.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pydantic import ValidationError

from monitor.commands.access.broker_users import (
    BrokerUserEntry,
    BrokerUsers,
    UserKind,
    access_list_text,
    connection_names,
    hash_password,
    make_password,
    password_file_text,
)
from monitor.commands.access.certificates import make_authority, make_certificate
from monitor.errors import ConfigurationError
from monitor.settings.faults import error_at, read_text_file

AUTHORITY, AUTHORITY_KEY = "ca.crt", "ca.key"
CERTIFICATE, CERTIFICATE_KEY = "broker.crt", "broker.key"
PASSWORDS, ACCESS_LIST = "laidup.passwords", "laidup.acl"
_USERS, _SHEETS, _SERVERS = "users.json", "sheets", "servers"


@dataclass(frozen=True, slots=True)
class BrokerFolder:
    """One yard's folder of broker files."""

    path: Path

    def begin_yard(self, yard: str, yard_name: str, hosts: Sequence[str], now: datetime) -> str:
        """Make authority, certificate and laidup's own user; tells that user's password.

        Raises
        ------
        ConfigurationError
            If an authority is there already: every device trusts it.
        """
        if (self.path / _USERS).exists() or (self.path / AUTHORITY).exists():
            raise error_at(
                self.path,
                "",
                "the yard's authority is there already, and every device trusts it",
                "`laidup access renew-certificate` renews what the broker shows; name another"
                " folder with --folder to begin anew.",
            )
        self._make_folder(self.path)
        key, authority = make_authority(yard_name, now)
        self._write(AUTHORITY_KEY, key)
        self._write(AUTHORITY, authority)
        self.renew_certificate(key, hosts, now)
        self._write_users(BrokerUsers(yard=yard))
        return self.add_user(f"laidup-{yard}", UserKind.DAEMON, "", now)

    def renew_certificate(self, authority_key: bytes, hosts: Sequence[str], now: datetime) -> None:
        """Make a new key and certificate for the broker; devices go on trusting the authority."""
        key, certificate = make_certificate(authority_key, self.read_authority(), hosts, now)
        self._write(CERTIFICATE_KEY, key)
        self._write(CERTIFICATE, certificate)

    def certify_server(
        self, authority_key: bytes, hosts: Sequence[str], now: datetime
    ) -> tuple[Path, Path]:
        """Make key and certificate of another server in the yard; tell where they are."""
        key, certificate = make_certificate(authority_key, self.read_authority(), hosts, now)
        self._make_folder(self.path / _SERVERS)
        files = (self.path / _SERVERS / f"{hosts[0]}.key", self.path / _SERVERS / f"{hosts[0]}.crt")
        for path, content in zip(files, (key, certificate), strict=True):
            write_secret(path, content)
        return files

    def read_authority(self) -> bytes:
        """The authority's certificate, as PEM."""
        return self._read(AUTHORITY)

    def read_certificate(self) -> bytes:
        """The broker's certificate, as PEM."""
        return self._read(CERTIFICATE)

    def read_users(self) -> BrokerUsers:
        """Who may speak to the broker.

        Raises
        ------
        ConfigurationError
            If nothing was begun here, or the file is not what was written.
        """
        path = self.path / _USERS
        if not path.exists():
            raise error_at(
                self.path,
                "",
                "there is no authority and no user yet",
                "Begin with `laidup access begin --host NAME`.",
            )
        try:
            return BrokerUsers.model_validate_json(read_text_file(path))
        except ValidationError as error:
            raise error_at(
                path,
                "",
                f"it is not what laidup wrote ({error.error_count()} faults)",
                "Put it back from your last copy of this folder.",
            ) from error

    def add_user(self, name: str, kind: UserKind, lamp_topic: str, now: datetime) -> str:
        """Add a user; tells its password, which is kept nowhere else.

        Raises
        ------
        ConfigurationError
            If there is such a user.
        """
        book = self.read_users()
        if any(name in connection_names(user) for user in book.users):
            raise error_at(
                self.path / _USERS,
                name,
                "there is such a user",
                f"`laidup access new-password {name}` gives it another password.",
            )
        password = make_password()
        entry = BrokerUserEntry(
            name=name,
            kind=kind,
            made_on=now.date(),
            lamp_topic=lamp_topic,
            password_hash=hash_password(password),
        )
        self._write_users(book.model_copy(update={"users": (*book.users, entry)}))
        return password

    def change_password(self, name: str, now: datetime) -> str:
        """Give a user another password and tell it; the old one ends with the broker's reload."""
        self.user_named(name)
        password = make_password()
        changed = {"password_hash": hash_password(password), "made_on": now.date()}
        book = self.read_users()
        users = tuple(
            user.model_copy(update=changed) if user.name == name else user for user in book.users
        )
        self._write_users(book.model_copy(update={"users": users}))
        return password

    def revoke_user(self, name: str) -> None:
        """Take a user away, its password and its sheets."""
        self.user_named(name)
        book = self.read_users()
        left = tuple(user for user in book.users if user.name != name)
        self._write_users(book.model_copy(update={"users": left}))
        for path in self.sheet_files(name):
            path.unlink(missing_ok=True)

    def user_named(self, name: str) -> BrokerUserEntry:
        """The user of a name; a ConfigurationError names those that there are."""
        users = {user.name: user for user in self.read_users().users}
        if name not in users:
            raise error_at(
                self.path / _USERS, name, "there is no such user", f"Users: {', '.join(users)}."
            )
        return users[name]

    def sheet_files(self, name: str) -> tuple[Path, Path]:
        """Where a user's sheet is: as text, and as a page to print."""
        return self.path / _SHEETS / f"{name}.txt", self.path / _SHEETS / f"{name}.html"

    def write_sheet(self, name: str, text: str, page: str) -> tuple[Path, Path]:
        """Write a user's sheet and tell where."""
        self._make_folder(self.path / _SHEETS)
        for path, content in zip(self.sheet_files(name), (text, page), strict=True):
            write_secret(path, content.encode())
        return self.sheet_files(name)

    def _write_users(self, book: BrokerUsers) -> None:
        """Write who there is, then what mosquitto reads, each whole or not at all."""
        self._write(_USERS, (book.model_dump_json(indent=2) + "\n").encode())
        self._write(PASSWORDS, password_file_text(book.users).encode())
        self._write(ACCESS_LIST, access_list_text(book).encode())

    def _write(self, name: str, content: bytes) -> None:
        write_secret(self.path / name, content)

    def _read(self, name: str) -> bytes:
        return read_text_file(self.path / name).encode()

    def _make_folder(self, path: Path) -> None:
        try:
            path.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise _unwritable(path, error) from error


def write_secret(path: Path, content: bytes) -> None:
    """Write a file for its user alone, in one step: whoever reads it sees the old or the new.

    Raises
    ------
    ConfigurationError
        If it cannot be written; then the old one stays.
    """
    new = path.with_name(f".{path.name}.new")
    try:
        new.unlink(missing_ok=True)
        with os.fdopen(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        new.rename(path)
    except OSError as error:
        new.unlink(missing_ok=True)
        raise _unwritable(path, error) from error


def _unwritable(path: Path, error: OSError) -> ConfigurationError:
    remedy = "Run this as the user whose folder it is; what was there is as it was."
    return error_at(path, "", f"it cannot be written: {error.strerror}", remedy)
