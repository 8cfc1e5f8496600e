"""The command line: the door to everything that laidup does."""

import argparse
import atexit
import gc
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from monitor.commands.streams import (
    drop_stdout,
    is_told_error,
    os_error_text,
    prepare_streams,
)
from monitor.errors import ConfigurationError, LaidupError, QuantityError

# Where each command's flags are (the module, and the function there that adds them), and what it is
# for. Only what is asked for is imported and made, for all of it takes longer than an answer may.
COMMANDS = {
    "demo": (
        "watching",
        "add_demo",
        "watch a fictional yard through four days of November, with nothing to set up",
    ),
    "init": ("init", "add_init", "make a yard's own folder with its files"),
    "access": (
        "access",
        "add_parser",
        "certificates, passwords and topics of the yard's broker; a sheet for each device",
    ),
    "run": ("watching", "add_run", "watch the yard: take readings, judge, and tell people"),
    "check": ("watching", "add_check", "check the configuration, and try everything that it names"),
    "status": ("watching", "add_status", "tell whether laidup is well and what it hears"),
    "verify": (
        "looking",
        "add_verify",
        "check that nobody changed, removed or added lay-up work behind laidup's back",
    ),
    "key": (
        "looking",
        "add_key",
        "show the key that the yard signs its season records with, or put a new one in its place",
    ),
    "assess": ("looking", "add_assess", "tell how every space and craft stands"),
    "alarms": (
        "alarms",
        "add_parser",
        "see the alarms; acknowledge, shelve or take them out of service",
    ),
    "rehearse": (
        "watching",
        "add_rehearse",
        "send a person an evening's letter with made-up craft, by every way that reaches them",
    ),
    "report": ("looking", "add_report", "show, keep or send the weekly report"),
    "record": (
        "record",
        "add_parser",
        "write a craft's season record: what it stood through, what was done, who answered",
    ),
    "storage": (
        "record",
        "add_storage",
        "tell how well the yard kept its spaces over a season: inside limits, alarms, craft saved",
    ),
    "replay": ("looking", "add_replay", "judge a past stretch again from its readings"),
    "prove": (
        "looking",
        "add_prove",
        "run the record through a hard winter: what it would damage, what saves it, what it takes",
    ),
    "skill": (
        "looking",
        "add_skill",
        "hold what was said of past nights against what they came to",
    ),
    "backlog": (
        "looking",
        "add_backlog",
        "tell which craft are not laid up, and by when they are at this pace",
    ),
    "claim": (
        "looking",
        "add_claim",
        "gather what is on record of a circuit's winter, when damage is found in spring",
    ),
    "import": (
        "imports",
        "add_parser",
        "take in craft with their record, a list of work, or readings, from a file",
    ),
    "export": ("export", "add_parser", "write readings, the lay-up record or alarms as a table"),
    "layup": (
        "layup",
        "add_parser",
        "enter lay-up work; see protection, the job plan, findings, the spring plan",
    ),
    "labels": ("sheets", "add_labels", "write a label for each craft, to be printed"),
    "work-sheet": (
        "sheets",
        "add_work_sheet",
        "write the job on each craft as a sheet to fill in, to be printed",
    ),
    "backup": (
        "store_care",
        "add_backup",
        "copy the store while laidup runs, and read the copy back",
    ),
    "restore": ("store_care", "add_restore", "put a copy of the store in its place again"),
    "archive": (
        "store_care",
        "add_archive",
        "write raw readings of past months as files, or check such files",
    ),
    "migrate": ("store_care", "add_migrate", "bring the store's tables up to date"),
    "rollups": ("store_care", "add_rollups", "make the hourly rollups of readings"),
    "forget": (
        "store_care",
        "add_forget",
        "take one person's letters and address out of the store; the record stays whole",
    ),
    "completion": ("init", "add_completion", "print what makes a shell complete commands"),
    "calc": ("calc", "add_parser", "do one sum of the judgement by hand"),
}

_NEW_OBJECTS = 50_000
_USAGE = 2  # exit status where what a person wrote cannot be used


class _Version(argparse.Action):
    """Tells the version, which is looked up only when somebody asks."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        print(f"laidup {version('laidup')}")
        parser.exit()


def command_parser(named: str | None = None) -> argparse.ArgumentParser:
    """The parser of all commands; with ``named`` of that one, and the others by name alone."""
    top = argparse.ArgumentParser(
        prog="laidup",
        description=(
            "Watches laid-up craft through the winter: judges frost, damp and batteries for every"
            " circuit of every craft, and tells the right person in time."
        ),
        epilog=(
            "Exit status: 0 done, and all is well; 1 it failed, or something is not well; 2 what"
            " was given cannot be used; 130 interrupted."
            " An aid to judgement, not a life-safety device."
        ),
    )
    top.add_argument("--version", action=_Version, nargs=0, help="say which laidup this is")
    children = top.add_subparsers(metavar="COMMAND", required=True)
    for name, (module, function, about) in COMMANDS.items():
        if named is not None and name != named:
            children.add_parser(name, help=about, add_help=False)
        else:
            add = getattr(import_module(f"monitor.commands.parsers.{module}"), function)
            add(children, about)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and tell its exit status: 0 done, 1 failed, 2 cannot use what was given."""
    if arguments is None:  # this process does nothing else, and what it made ends with it
        atexit.register(gc.freeze)
    prepare_streams()
    # A command makes a yard's objects once and ends: looking for dead ones takes a tenth of it.
    gc.set_threshold(_NEW_OBJECTS, 10, 10)
    if "_ARGCOMPLETE" in os.environ:  # a shell asks what may come next
        import argcomplete

        argcomplete.autocomplete(command_parser())
    given = sys.argv[1:] if arguments is None else list(arguments)
    named = next((word for word in given if not word.startswith("-")), "")
    chosen = command_parser(named).parse_args(given)
    try:
        status = int(chosen.run(chosen))
        sys.stdout.flush()  # where there is no room for the rest, it is told as any other failure
        return status
    except (ConfigurationError, QuantityError) as error:
        print(error, file=sys.stderr)
        return _USAGE
    except LaidupError as error:
        print(error, file=sys.stderr)
        return 1
    except BrokenPipeError:
        drop_stdout()
        return 1
    except OSError as error:
        if not is_told_error(error):
            raise
        drop_stdout()
        print(os_error_text(error), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130  # as a shell reports it


if __name__ == "__main__":
    sys.exit(main())
