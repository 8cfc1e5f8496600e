"""``laidup init``: a yard's own folder, apart from the program, with its files ready to fill in."""

import argparse
import os
import sys
from pathlib import Path
from typing import Any

from monitor.commands.access.command import PUT_IN_PLACE, begin_access, check_host
from monitor.commands.init_answers import (
    SOURCE,
    NamedServer,
    ask_until_right,
    checked_answer,
    own_address,
    space_from,
    usual_answer,
)
from monitor.commands.parsers.init import QUESTIONS
from monitor.errors import ConfigurationError, Fault
from monitor.settings.faults import check_content
from monitor.settings.load import program_around
from monitor.settings.new_yard import (
    BROKER_PASSWORD,
    FOLDERS,
    MAIL_PASSWORD,
    YARD_FILE,
    NewYard,
    files_of,
)
from monitor.settings.record_key import KEY_FILE, make_record_key
from monitor.yard.people import id_from

_MAY_BE_THERE = {"lost+found"}  # what a new disk brings along


def run(arguments: argparse.Namespace) -> int:
    """Ask for what is missing, write the files, say how it goes on."""
    folder: Path = arguments.folder
    _refuse_folder(folder)
    said = {one.key: getattr(arguments, one.key) for one in QUESTIONS}
    spaces = [space_from(text) for text in arguments.spaces or ()]
    hosts = [check_host(host) for host in arguments.broker_host or ()]
    asks = sys.stdin.isatty()
    if not asks:
        _refuse_missing(said, has_broker=bool(hosts or arguments.broker))
    _answer_questions(said)
    broker = NamedServer(arguments.broker, arguments.broker_user)
    mail = NamedServer(arguments.mail_server, arguments.mail_user)
    if asks:
        hosts = hosts or _ask_for_broker(broker)
        if not mail.named:
            mail.ask_for("Mail server, as HOST[:PORT]", "none yet")
    new = check_content(
        NewYard,
        {
            **said,
            "id": arguments.id or id_from(said["name"]),
            "spaces": tuple(spaces),
            **broker.as_values("broker"),
            **mail.as_values("mail", "mail_server"),
        },
        SOURCE,
    )
    _write_folder(folder, FOLDERS, files_of(new))
    if new.broker is None:
        begin_access(folder / YARD_FILE, hosts)
    broker.keep_password(folder / BROKER_PASSWORD)
    mail.keep_password(folder / MAIL_PASSWORD)
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


def _answer_questions(said: dict[str, Any]) -> None:
    """Check what flags said, and ask for the rest."""
    for one in QUESTIONS:
        check = checked_answer(one.key)
        if said[one.key] is None:
            usual = usual_answer(one.key, said)
            hint = f"Enter: {usual}" if usual else f"like {one.example}"
            said[one.key] = ask_until_right(f"{one.ask} ({hint}): ", check, usual)
        else:
            said[one.key] = check(said[one.key])


def _ask_for_broker(broker: NamedServer) -> list[str]:
    """Ask for a broker that is there; where none is, by which host this one is reached."""
    if not broker.named:
        broker.ask_for("Broker, if one is there already, as HOST[:PORT]", "made ready here")
    if broker.named:
        return []
    usual = own_address()
    hint = f"Enter: {usual}" if usual else "like 192.0.2.10"
    asked = f"Name or address by which sensors reach this machine ({hint}): "
    return [ask_until_right(asked, check_host, usual)]


def _refuse_missing(said: dict[str, Any], *, has_broker: bool) -> None:
    missing = [f"{one.flag} (like {one.example})" for one in QUESTIONS if said[one.key] is None]
    if not has_broker:
        missing.append("--broker-host (like 192.0.2.10)")
    if missing:
        raise ConfigurationError(
            [
                Fault(
                    file=str(SOURCE),
                    key="",
                    problem=f"not said: {', '.join(missing)}",
                    remedy="Say it by flags, or run this at a terminal, where it is asked for.",
                )
            ]
        )


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
    print(
        f"Its records are signed with {folder / KEY_FILE}: keep a copy under lock and key;"
        " `laidup key` shows what owners may know of it."
    )
    if new.mail_server is None:
        print(f"Put [mail] into {yard_file}: until then nobody is told anything.")
    print("Then, in this order:")
    if new.broker is None:
        print(f"    sh {PUT_IN_PLACE} {folder / 'broker'}    (as root: the broker on this machine)")
    print(f"    laidup check --config {folder}")
    print(f"    laidup run --config {folder}")
    print(f"    laidup access invite --config {folder} {id_from(new.person)}")
    print(
        f"The last one, beside the running laidup, gives the link by which {new.person} sets a"
        " password. All else is put in at the page, under /yard: spaces, sensors as they are"
        " heard, people, antifreeze, craft as a list, and a rehearsal at the end."
    )
