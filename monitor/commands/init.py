"""``laidup init``: a yard's own folder, apart from the program, with its files ready to fill in."""

import argparse
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from monitor.commands.access.command import begin_access, check_host
from monitor.commands.parsers.init import QUESTIONS
from monitor.errors import ConfigurationError, Fault
from monitor.settings.faults import check_content
from monitor.settings.load import program_around
from monitor.settings.new_yard import FOLDERS, YARD_FILE, NewYard, answer_model, files_of
from monitor.settings.record_key import KEY_FILE, make_record_key
from monitor.yard.people import id_from
from monitor.yard.space import SpaceKind

_SOURCE = Path("laidup init")
_MAY_BE_THERE = {"lost+found"}  # what a new disk brings along


def run(arguments: argparse.Namespace) -> int:
    """Ask for what is missing, write the files, say how it goes on."""
    folder: Path = arguments.folder
    _refuse_folder(folder)
    said = {one.key: getattr(arguments, one.key) for one in QUESTIONS}
    spaces = [_space_from(text) for text in arguments.spaces or ()]
    hosts = [check_host(host) for host in arguments.broker_host or ()]
    if not sys.stdin.isatty():
        _refuse_missing(said, spaces, hosts)
    for one in QUESTIONS:
        if said[one.key] is None:
            said[one.key] = _ask(f"{one.ask} (like {one.example}): ", _checked(one.key))
        else:
            said[one.key] = _checked(one.key)(said[one.key])
    if not spaces:
        spaces = _ask_spaces()
    if not hosts:
        asked = "Name or address by which sensors reach this machine (like 192.0.2.10): "
        hosts = [_ask(asked, lambda text: check_host(text.strip()))]
    host, _, port = (arguments.mail_server or "").partition(":")
    new = check_content(
        NewYard,
        {
            **said,
            "id": arguments.id or id_from(said["name"]),
            "spaces": tuple(spaces),
            "mail_server": host or None,
            **({"mail_port": int(port) if port.isdigit() else port} if port else {}),
        },
        _SOURCE,
    )
    _write_folder(folder, FOLDERS, files_of(new))
    begin_access(folder / YARD_FILE, hosts)
    make_record_key(folder)
    _tell(folder, folder / YARD_FILE, new)
    return 0


def _refuse_folder(folder: Path) -> None:
    """Raise where something is there already, or the folder would lie inside the program."""
    problem = remedy = ""
    if folder.exists() and not folder.is_dir():
        problem, remedy = "it is a file", "Name a folder that is new or empty."
    elif folder.is_dir() and {one.name for one in folder.iterdir()} - _MAY_BE_THERE:
        problem = "something is in it already, and nothing is overwritten"
        remedy = "Name a folder that is new or empty."
    elif (program := program_around(folder)) is not None:
        problem = f"it lies inside the program ({program}), which an upgrade replaces"
        remedy = "Name a folder outside of it, such as /srv/laidup."
    if problem:
        raise ConfigurationError([Fault(file=str(folder), key="", problem=problem, remedy=remedy)])


def _refuse_missing(said: dict[str, Any], spaces: list[tuple[str, str]], hosts: list[str]) -> None:
    missing = [f"{one.flag} (like {one.example})" for one in QUESTIONS if said[one.key] is None]
    if not spaces:
        missing.append('--space (like "Cold shed=cold")')
    if not hosts:
        missing.append("--broker-host (like 192.0.2.10)")
    if missing:
        raise ConfigurationError(
            [
                Fault(
                    file=str(_SOURCE),
                    key="",
                    problem=f"not said: {', '.join(missing)}",
                    remedy="Say it by flags, or run this at a terminal, where it is asked for.",
                )
            ]
        )


def _checked(key: str) -> Callable[[str], Any]:
    """Reads one answer; raises where it will not do."""

    def read(text: str) -> Any:  # noqa: ANN401  as the field has it
        value: Any = text.strip()
        if key in {"latitude", "longitude"}:
            with suppress(ValueError):  # the model says what is wrong with it
                value = float(value)
        elif key == "units":
            value = value.upper()
        return getattr(check_content(answer_model(key), {key: value}, _SOURCE), key)

    return read


def _space_from(text: str) -> tuple[str, str]:
    """One part of the yard as it is said on the command line: its name, ``=``, its kind."""
    name, equals, kind = (part.strip() for part in text.rpartition("="))
    kinds = [one.value for one in SpaceKind]
    if not (name and equals and kind in kinds):
        raise ConfigurationError(
            [
                Fault(
                    file=str(_SOURCE),
                    key="--space",
                    problem=f"{text!r} is no part of a yard",
                    remedy=f'Write it like "Cold shed=cold". Kinds: {", ".join(kinds)}.',
                )
            ]
        )
    return name, kind


def _ask(question: str, read: Callable[[str], Any]) -> Any:  # noqa: ANN401  as the reader has it
    """Ask until the answer will do."""
    while True:
        try:
            return read(input(question))
        except ConfigurationError as error:
            print(f"  {error.faults[0].problem}. {error.faults[0].remedy}")
        except EOFError as error:
            raise KeyboardInterrupt from error


def _ask_spaces() -> list[tuple[str, str]]:
    print("Parts of the yard with their own air, one a line, like: Cold shed=cold")
    print("Kinds: heated, cold, wrapped, open, bench (batteries on maintainers).")
    spaces = [_ask("First: ", _space_from)]

    def read(text: str) -> tuple[str, str] | None:
        return _space_from(text) if text.strip() else None

    while (one := _ask("Next (Enter ends the list): ", read)) is not None:
        spaces.append(one)
    return spaces


def _write_folder(folder: Path, below: tuple[str, ...], files: dict[str, str]) -> None:
    """Write all of it for this user alone; what cannot be written whole is taken away again."""
    made: list[Path] = []
    try:
        if not folder.exists():
            folder.mkdir(parents=True, mode=0o700)
            made.append(folder)
        folder.chmod(0o700)
        for name in below:
            (folder / name).mkdir(mode=0o700)
            made.append(folder / name)
        for name, text in files.items():
            path = folder / name
            with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
                made.append(path)
                file.write(text)
    except OSError as error:
        for path in reversed(made):
            path.rmdir() if path.is_dir() else path.unlink()
        raise ConfigurationError(
            [
                Fault(
                    file=str(error.filename or folder),
                    key="",
                    problem=f"it cannot be made: {error.strerror}",
                    remedy="Run this as the user that laidup is to run as, with a folder of its"
                    " own; nothing of it is left.",
                )
            ]
        ) from error


def _tell(folder: Path, yard_file: Path, new: NewYard) -> None:
    print(f"{folder} is the folder of {new.name} ({new.id}) now, and only this user's to read.")
    if new.mail_server is None:
        print(f"Put [mail] into {yard_file}: until then nobody is told anything.")
    print("deploy/INSTALL.md has the broker. Then:")
    print(f"    laidup check --config {folder}")
    print(f"    laidup run --config {folder}")
    print(
        "Sensors as they are heard, people and craft can be put in at its page (/yard), or in"
        f" {yard_file} and {folder / 'craft.toml'}."
    )
    print(
        f"Its records are signed with {folder / KEY_FILE}: keep a copy under lock and key;"
        " `laidup key` shows what owners may know of it."
    )
    print(
        "Nobody has a password for its page yet; each person of the yard's file sets one by a link:"
    )
    print(f"    laidup access invite --config {folder} NAME")
