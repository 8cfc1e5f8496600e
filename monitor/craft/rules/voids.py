"""Rules of undoing: what took protection away, and has not been put right since."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta

from monitor.craft.layup import RUNS, Act
from monitor.craft.protection import LayupState, Protection
from monitor.craft.rules.case import Breach, Case, Rule
from monitor.wording import listed

_NAMES = {
    **dict.fromkeys(RUNS, "run-after-lay-up"),
    Act.CIRCUIT_OPENED: "circuit-opened",
    Act.PORT_LEFT_OPEN: "port-left-open",
    Act.COMMISSIONED: "commissioned",
    Act.COVER_TORN: "cover-torn",
    Act.COVER_OFF: "cover-off",
    Act.STOOD: "stands-wrong",
}
_REMEDIES = {
    "run-after-lay-up": "Lay it up again from the flush on.",
    "circuit-opened": "Treat that circuit again, and read.",
    "port-left-open": "Close it, then treat and read that circuit again.",
    "commissioned": "The full job again, if it stays.",
    "cover-torn": "Dry it, refit the cover, and look.",
    "cover-off": "Look at what the cover kept dry, let out what stands in it, and fit it again.",
    "stands-wrong": "Set it down as it must stand, let it drain, and look.",
    "moved-into-cold": "Take it back into the warm tonight, or drain it before dark.",
}
_HELD = {LayupState.PROVEN, LayupState.HEAT_ONLY}
_BEFORE = timedelta(milliseconds=1)


def undone(case: Case) -> Iterator[Breach]:
    """A run, an opened circuit, an open port, spring, a cover torn or off, a tilt since then."""
    for entry in case.entries:
        if entry.act in _NAMES:
            around = case.protections_around(entry)
            yield from _lost(case, around, entry.at, _NAMES[entry.act], entry.id)


def moved_into_cold(case: Case) -> Iterator[Breach]:
    """Heat is no lay-up: out of it, an untreated circuit is water in the cold."""
    for stay in case.record.stays:
        if stay.since <= case.at:
            around = case.protections(stay.since - _BEFORE), case.protections(stay.since)
            yield from _lost(
                case, around, stay.since, "moved-into-cold", held={LayupState.HEAT_ONLY}
            )


def _lost(
    case: Case,
    around: tuple[Mapping[str, Protection], Mapping[str, Protection]],
    when: datetime,
    rule: str,
    entry: str = "",
    held: set[LayupState] = _HELD,
) -> Iterator[Breach]:
    """Circuits that held before something happened, not after it, and still do not."""
    before, after = around
    now = case.protections(case.at)
    lost = [
        name
        for name in case.profile.circuit_ids
        if before[name].state in held
        and after[name].state not in _HELD
        and now[name].state not in _HELD
    ]
    if lost:
        yield Breach(
            rule=rule,
            part=lost[0] if len(lost) == 1 else "",
            why=f"{listed([case.name(name) for name in lost])}: {after[lost[0]].why}",
            remedy=_REMEDIES[rule],
            at=when,
            entry=entry,
        )


RULES: tuple[Rule, ...] = (undone, moved_into_cold)
