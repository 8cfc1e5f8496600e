"""The command line: the door to everything that laidup does."""

import argparse
import sys
from collections.abc import Sequence
from types import ModuleType

from monitor.commands import (
    alarms,
    assess,
    backup,
    check,
    demo,
    init,
    rehearse,
    replay,
    report,
    restore,
    run,
    skill,
    status,
    store_care,
    verify,
)
from monitor.commands.calc import command as calc
from monitor.commands.imports import command as imports
from monitor.commands.layup import command as layup
from monitor.errors import ConfigurationError, LaidupError, QuantityError

COMMANDS: tuple[ModuleType, ...] = (
    demo,
    init,
    run,
    check,
    status,
    verify,
    assess,
    alarms,
    rehearse,
    report,
    replay,
    skill,
    imports,
    layup,
    backup,
    restore,
    store_care,
    calc,
)

_USAGE = 2  # exit status where what a person wrote cannot be used


def command_parser() -> argparse.ArgumentParser:
    """The parser of every command; each command's module adds its own."""
    top = argparse.ArgumentParser(
        prog="laidup",
        description=(
            "Watches laid-up craft through the winter: judges frost, damp and batteries for every"
            " circuit of every craft, and tells the right person in time."
        ),
        epilog="An aid to judgement, not a life-safety device.",
    )
    children = top.add_subparsers(metavar="COMMAND", required=True)
    for command in COMMANDS:
        command.add_parser(children)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and tell its exit status: 0 done, 1 failed, 2 cannot use what was given."""
    chosen = command_parser().parse_args(arguments)
    try:
        return int(chosen.run(chosen))
    except (ConfigurationError, QuantityError) as error:
        print(error, file=sys.stderr)
        return _USAGE
    except LaidupError as error:
        print(error, file=sys.stderr)
        return 1
    except BrokenPipeError:
        return 1
    except KeyboardInterrupt:
        return 130  # as a shell reports it


if __name__ == "__main__":
    sys.exit(main())
