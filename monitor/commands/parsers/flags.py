"""What the parsers share: flags of one form, and work that is imported only when it is run."""

import argparse
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any, TypeAlias

from monitor.settings.place import CONFIG_VARIABLE, yard_file_in

# What add_subparsers gives: the commands, or the verbs of one.
Children: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


@dataclass(frozen=True, slots=True)
class DeferredFunction:
    """A function of a command's own module, which is imported when it is called.

    What a command works with takes a second to import; its help comes at once.
    """

    module: str
    function: str

    def load_function(self) -> Callable[..., Any]:
        """The function itself."""
        found: Callable[..., Any] = getattr(import_module(self.module), self.function)
        return found

    def __call__(self, *arguments: Any) -> Any:  # noqa: ANN401  as the function has it
        """Do the work."""
        return self.load_function()(*arguments)


def add_at(parser: argparse.ArgumentParser, about: str) -> None:
    """Add ``--at``: a time, now if it is not given."""
    parser.add_argument("--at", metavar="TIME", help=f"{about}, like yesterday 16:00 (now)")


def add_config(parser: argparse.ArgumentParser) -> None:
    """Add ``--config``: the yard's folder, else that of the environment, else the current one."""
    parser.add_argument(
        "--config",
        type=yard_file_in,
        # argparse reads a default that is text as it reads what is typed.
        default=os.environ.get(CONFIG_VARIABLE) or ".",
        metavar="FOLDER",
        help=f"the yard's folder, or its yard.toml (default: ${CONFIG_VARIABLE}, else the current"
        " folder)",
    )


def add_pdf_paper(parser: argparse.ArgumentParser) -> None:
    """Add ``--paper``, of a report that may be a PDF."""
    parser.add_argument(
        "--paper",
        choices=("a4", "letter"),
        help="of the PDF (default: Letter where the yard pours in fluid ounces, else A4)",
    )


def add_json(parser: argparse.ArgumentParser) -> None:
    """Add ``--json``: the answer for machines."""
    parser.add_argument(
        "--json", action="store_true", help="answer for machines: SI, the unit in the key, UTC"
    )


def take_negative_quantities(parser: argparse.ArgumentParser) -> None:
    """Let a flag take -12C, which argparse holds for a flag: it knows -12 only as a bare number."""
    parser._negative_number_matcher = re.compile(r"-\.?\d")
