"""Entries at random, the same every time, and the file of hashes that their bytes must keep.

``python -m tests.craft.random_entries`` writes the file anew: only to add vectors, since a
hash that changes breaks the chain of every yard.
"""

import random
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta, timezone
from hashlib import sha256
from pathlib import Path

import rfc8785

from monitor.craft.canonical import entry_json
from monitor.craft.layup import (
    Act,
    Cover,
    Evidence,
    FlowOrder,
    LayupEntry,
    Liquid,
    OilAppearance,
    Outflow,
    Posture,
    Product,
    Seen,
)

HASHES = Path(__file__).with_name("entry_hashes.txt")
COUNT = 1600
_SHOWN = 16  # signs of each SHA-256

# Written out, not read off the enumerations: a new member must not change what is drawn.
_ACTS = (  # noqa: SIM905  43 lines else
    "arrived repaired owner-statement flushed fuel-stabilised fuel-run-through fuel-drained "
    "drained blown-out antifreeze-run-through antifreeze-poured fogged-running "
    "fogged-plug-holes oil-changed sprayed-down desiccant-placed battery-removed "
    "battery-left-aboard battery-on-maintainer battery-off-maintainer battery-equalised "
    "battery-disconnected battery-connected cover-fitted cover-off closed-up opened-up "
    "bilge-wet bilge-dried cover-torn snow-load snow-cleared rodent-care kept-warm stood "
    "run-on-water circuit-opened port-left-open work-begun work-ended inspected commissioned "
    "withdrawn"
).split(" ")
_CIRCUITS = ("water-box", "hoses", "block", "starboard-exhaust-jacket", "head")
_LIQUIDS = ("propylene", "ethylene", "ethanol", "not known")
_OUTFLOWS = ("not looked", "none", "seen", "full colour")
_WORDS = ("", "pink, 50 %", "Überlauf “A”", "a\nb", '<&>\\"/', "🛥", "\u20ac 5", "x" * 60)


class _Draw:
    """Picks from a seeded source by `random()` alone, which never changes between Pythons."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed).random

    def chance(self, share: float) -> bool:
        return self._random() < share

    def one(self, several):
        return several[int(self._random() * len(several))]

    def maybe(self, several, share: float = 0.4):
        return self.one(several) if self.chance(share) else None

    def some(self, several, most: int) -> tuple[str, ...]:
        left, taken = list(several), []
        while left and len(taken) < most and self.chance(0.5):
            taken.append(left.pop(int(self._random() * len(left))))
        return tuple(taken)

    def number(self, low: float, high: float) -> float:
        value = low + (high - low) * self._random()
        return self.one((value, round(value, 2), round(value, 1), float(round(value))))

    def maybe_number(self, low: float, high: float) -> float | None:
        return self.number(low, high) if self.chance(0.4) else None


def random_entries() -> Iterator[LayupEntry]:
    """Entries with every field said and left out, in every zone, in more than ASCII."""
    draw = _Draw(20261128)
    for number in range(COUNT):
        yield _entry(draw, number)


def _entry(draw: _Draw, number: int) -> LayupEntry:
    act = Act(draw.one(_ACTS))
    zone = draw.one((UTC, timezone(timedelta(hours=-6)), timezone(timedelta(hours=5, minutes=45))))
    at = datetime(2026, 8, 1, tzinfo=zone) + timedelta(
        seconds=draw.one((60, 1)) * int(draw.number(0, 250_000)),
        microseconds=draw.one((0, 0, 250_000)),
    )
    cover = draw.maybe(("breathable", "shrink-wrap"))
    flow, posture = draw.maybe(tuple(FlowOrder)), draw.maybe(("upright", "tilted", "bow up"))
    return LayupEntry(
        id=f"e{number}",
        craft=draw.one(("k1", "k2", "wren-2")),
        at=at,
        by=draw.one(("Ines Aldaz", "tom", "Åke Ö.", "山田")),
        act=act,
        circuits=draw.some(_CIRCUITS, 4),
        product=_product(draw) if draw.chance(0.4) else None,
        quantity_l=draw.maybe_number(0.5, 20.0),
        residual_l=draw.maybe_number(0.0, 4.0),
        flow_order=flow,
        posture=Posture(posture) if posture else None,
        cover=Cover(cover) if cover and act is Act.COVER_FITTED else None,
        space=draw.one(("", "bench", "stove-barn")),
        rested_v=draw.maybe_number(0.0, 14.0),
        evidence=_evidence(draw),
        findings=tuple(
            Seen(id=f"f{n}", part=draw.one(("hull", "head")), words=draw.one(_WORDS))
            for n in range(int(draw.number(0, 2.4)))
        ),
        settles=draw.some(("k7-seal", "k9-hose"), 2),
        note=draw.one(_WORDS),
        replaces="e1" if act is Act.WITHDRAWN else draw.one(("", "", "e2")),
    )


def _product(draw: _Draw) -> Product:
    return Product(
        name=draw.one(_WORDS[1:]),
        liquid=Liquid(draw.one(_LIQUIDS)),
        strength=draw.maybe((0.3, 0.5, 0.6, 0.2871, 1 / 3, 0.123456789)),
        label_burst_c=draw.maybe_number(-80.0, -5.0),
        lot=draw.one(("", "P26-117")),
    )


def _evidence(draw: _Draw) -> Evidence:
    scale, oil = draw.maybe(_LIQUIDS), draw.maybe(("clear", "milky", "water"))
    return Evidence(
        outflow=Outflow(draw.one(_OUTFLOWS)),
        dry=draw.maybe((True, False)),
        ice_point_c=draw.maybe_number(-60.0, -0.4),
        scale=Liquid(scale) if scale else None,
        zeroed_on=date(2026, 10, 1) + timedelta(days=int(draw.number(0, 60)))
        if draw.chance(0.3)
        else None,
        engine_hot=draw.maybe((True, False)),
        oil=OilAppearance(oil) if oil else None,
        treated_fuel_seen=draw.maybe((True, False)),
        photos=draw.some(("IMG 1.jpg", "bench/2.png"), 2),
        witness=draw.one(("", "Tom Varga")),
    )


def hash_of(entry: LayupEntry) -> str:
    """The beginning of the SHA-256 of an entry's canonical bytes."""
    return sha256(rfc8785.dumps(entry_json(entry))).hexdigest()[:_SHOWN]


if __name__ == "__main__":
    HASHES.write_text("".join(f"{hash_of(one)}\n" for one in random_entries()))
