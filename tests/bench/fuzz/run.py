"""Runs spoiled payloads through the parsers, and counts what became of them."""

import resource
import time
import traceback
import tracemalloc
from collections.abc import Iterable
from dataclasses import dataclass, field
from random import Random

from tests.bench.fuzz.parsers import Parser
from tests.bench.fuzz.spoil import spoil

SLOWEST_S = 2.0  # of processor time for one payload; the usual is under a thousandth
LARGEST_PEAK = 64 * 2**20  # bytes that one payload may take for a moment, of those measured
_MEASURED = 50  # one payload of so many has its memory measured: that makes all slow
_SHOWN = 5


@dataclass(slots=True, kw_only=True)
class Figures:
    """What became of one parser's payloads."""

    parser: str
    payloads: int = 0
    taken: int = 0
    refused: int = 0
    reasons: set[str] = field(default_factory=set)  # their beginnings
    slowest_s: float = 0.0
    slowest: int = -1
    peak_bytes: int = 0
    grown_bytes: int = 0  # of the process, over the whole run
    seconds: float = 0.0
    faults: list[tuple[int, str]] = field(default_factory=list)  # payload's number, what happened

    @property
    def is_well(self) -> bool:
        """Whether nothing crashed, none was lost, and time and memory stayed bounded."""
        return (
            not self.faults
            and self.taken + self.refused == self.payloads
            and self.slowest_s <= SLOWEST_S
            and self.peak_bytes <= LARGEST_PEAK
        )


def payload_of(parser: Parser, number: int, sound: list[bytes] | None = None) -> bytes:
    """The payload of that number: the same on every machine and in every run."""
    sound = parser.seeds() if sound is None else sound
    chance = Random(f"{parser.name}/{number}")
    return spoil(sound[number % len(sound)], sound, chance)


def strain(parser: Parser, numbers: Iterable[int]) -> Figures:
    """Try payloads by their numbers."""
    found, sound = Figures(parser=parser.name), parser.seeds()
    with parser.opened() as try_one:
        for one in sound:
            try_one(one)  # what is imported and made only once is no payload's cost
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        began_s = time.monotonic()
        for number in numbers:
            payload = payload_of(parser, number, sound)
            found.payloads += 1
            is_measured = number % _MEASURED == 0
            if is_measured:
                tracemalloc.start()
            at_s = time.thread_time()
            try:
                reason = try_one(payload)
            except Exception:  # noqa: BLE001
                found.faults.append((number, traceback.format_exc()))
            else:
                found.taken += not reason
                found.refused += bool(reason)
                found.reasons.add(reason[:60])
            took_s = time.thread_time() - at_s
            if is_measured:
                found.peak_bytes = max(found.peak_bytes, tracemalloc.get_traced_memory()[1])
                tracemalloc.stop()
            elif took_s > found.slowest_s:
                found.slowest_s, found.slowest = took_s, number
        found.seconds = time.monotonic() - began_s
        found.grown_bytes = 1024 * (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
    return found


HEADING = (
    f"{'parser':13} {'payloads':>9} {'taken':>8} {'refused':>8} {'reasons':>8} {'slowest':>10}"
    f" {'peak':>8} {'grown':>8} {'a second':>9}  faults"
)


def figures_line(one: Figures) -> str:
    """A row of the table."""
    return (
        f"{one.parser:13} {one.payloads:9,} {one.taken:8,} {one.refused:8,} {len(one.reasons):8,}"
        f" {one.slowest_s * 1000:7.1f} ms {one.peak_bytes / 2**20:5.1f} MB"
        f" {one.grown_bytes / 2**20:5.1f} MB {one.payloads / max(one.seconds, 1e-9):9,.0f}"
        f"  {len(one.faults)}"
    )


def fault_lines(one: Figures) -> Iterable[str]:
    """The first faults, each with the command that tries its payload again."""
    for number, what in one.faults[:_SHOWN]:
        yield f"python -m tests.bench.fuzz --only {one.parser} --number {number}"
        yield what
    if one.slowest_s > SLOWEST_S:
        yield f"{one.parser}: payload {one.slowest} takes {one.slowest_s:.1f} s"
