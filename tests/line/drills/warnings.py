"""Faults outside laidup that could keep a warning from a person: who is told what, and when."""

import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """One message that reached somebody during a drill."""

    to: str  # a person, or an outlet: "operator", "ping", "service manager", "page"
    what: str  # its subject, or what the outlet said, in a few words
    after_s: float  # since the fault struck


@dataclass(frozen=True, slots=True, kw_only=True)
class Warned:
    """What came of one drill."""

    held: bool  # the warning reached whom it should, within its time
    words: tuple[Word, ...] = ()
    memory_mb: float | None = None  # largest resident memory of the process under the fault
    note: str = ""  # what was counted: rows stored falsely, copies of a mail, refusals


@dataclass(frozen=True, slots=True, kw_only=True)
class WarningDrill:
    """A fault, and how it is tried in an empty folder."""

    name: str
    parts: str  # the parts that no one here wrote, such as "mosquitto_pub; aiosmtpd"
    run: Callable[[Path], Warned]


HEAD = (
    "| fault | parts of others | held | who was told what, when | memory | counted |",
    "|---|---|---|---|---|---|",
)


def table(drills: Iterable[WarningDrill], only: str) -> Iterator[str]:
    """Run the drills whose name contains ``only``; the table's lines."""
    yield from HEAD
    for drill in drills:
        if only in drill.name:
            with tempfile.TemporaryDirectory() as folder:
                yield row(drill, drill.run(Path(folder)))


def row(drill: WarningDrill, came: Warned) -> str:
    """One drill as a line of the table."""
    told = "; ".join(f"{one.to}: {one.what}, {one.after_s:.1f} s" for one in came.words)
    memory = "" if came.memory_mb is None else f"{came.memory_mb:.0f} MB"
    held = "yes" if came.held else "NO"
    return f"| {drill.name} | {drill.parts} | {held} | {told} | {memory} | {came.note} |"
