"""What a piece of work changed: what each circuit holds before and after, rules newly broken."""

import json
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from monitor.commands.opening import Opened
from monitor.craft.account import protections
from monitor.craft.layup import LayupEntry
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.protection import LayupState, Protection
from monitor.craft.reach import reached
from monitor.craft.record import CraftRecord, layup_plan
from monitor.craft.rules.case import Breach
from monitor.craft.rules.examine import examine
from monitor.craft.rules.mending import step_that_mends
from monitor.phrases.plan import step_sentence
from monitor.wording import Wording


def circuits_then_and_now(
    bench: Opened, before: CraftRecord, after: CraftRecord, words: Wording
) -> dict[str, tuple[Protection, Protection]]:
    """What each circuit held by the record before, and what it holds by the record after."""
    now = max([datetime.now(UTC), *(one.at for one in after.entries)])
    then, since = (
        protections(one.profile, one.entries, one.stays, bench.shelters, now, one.iced, words)
        for one in (before, after)
    )
    return {name: (then[name], held) for name, held in since.items() if name in then}


def new_breaches(
    bench: Opened, before: CraftRecord, after: CraftRecord, words: Wording
) -> list[Breach]:
    """Rules of the trade that the work broke."""
    now = max([datetime.now(UTC), *(one.at for one in after.entries)])
    known = {(one.rule, one.part, one.entry) for one in examine(before, bench.shelters, now)}
    return [
        one
        for one in examine(after, bench.shelters, now, words)
        if (one.rule, one.part, one.entry) not in known
    ]


def protection_words(one: Protection, words: Wording) -> str:
    """What a circuit holds, in a few words: ``proven, ice from −21.3 °C``."""
    if one.state is not LayupState.PROVEN:
        return f"{one.state}, judged as plain water"
    if one.ice_point_c == float("-inf"):
        return f"{one.state}, dry"
    return f"{one.state}, ice from {words.ice_point(one.ice_point_c)}"


def print_consequence(
    bench: Opened,
    entries: list[LayupEntry],
    before: CraftRecord,
    after: CraftRecord,
    new: int,
    *,
    as_json: bool,
    about: Sequence[LayupEntry] = (),
) -> None:
    """Say what entries came to: what was new, which circuits changed, which rules are broken.

    Circuits that ``about`` reached are told too, whether they changed or not.
    """
    words = bench.wording_for(as_json=as_json)
    circuits = circuits_then_and_now(bench, before, after, words)
    known = set(after.profile.circuit_ids)
    touched = {
        name for entry in (*entries, *about) for name in reached(entry, after.profile)
    } & known
    breaches = new_breaches(bench, before, after, words)
    if as_json:
        print(json.dumps(_as_json(entries, circuits, touched, breaches, new), ensure_ascii=False))
        return
    for entry in entries:
        print(_entry_line(entry, before, new=bool(new)))
    for line in _circuit_lines(circuits, touched, words):
        print(f"  {line}")
    for line in _breach_lines(_with_remedies(bench, after, breaches, words)):
        print(f"  {line}")


def _breach_lines(told: Sequence[tuple[Breach, str]]) -> Iterator[str]:
    """Each breach, and behind all that the same step mends that step, once."""
    by_remedy: dict[str, list[str]] = {}
    for one, remedy in told:
        by_remedy.setdefault(remedy, []).append(one.why)
    for remedy, whys in by_remedy.items():
        yield from (f"! {why}." for why in whys[:-1])
        yield f"! {whys[-1]}. {remedy}" if len(whys) == 1 else f"! {whys[-1]}."
        if len(whys) > 1:
            yield f"  For these {len(whys)}: {remedy}"


def _with_remedies(
    bench: Opened, record: CraftRecord, breaches: Sequence[Breach], words: Wording
) -> list[tuple[Breach, str]]:
    """Each breach with the step of the craft's plan that mends it, else with its own remedy."""
    if not breaches:
        return []
    shelf = bench.yard.shelf or USUAL_SHELF
    now = datetime.now(UTC)
    plan = layup_plan(record, bench.shelters, now, bench.yard.design_low_c, shelf)
    return [
        (
            one,
            one.remedy
            if (step := step_that_mends(one, record, plan)) is None
            else step_sentence(step, record.profile, words),
        )
        for one in breaches
    ]


def _circuit_lines(
    circuits: Mapping[str, tuple[Protection, Protection]], touched: set[str], words: Wording
) -> list[str]:
    """What became of circuits; of those to which the same happened it is told once."""
    alike: dict[str, list[str]] = {}
    for name, (then, held) in circuits.items():
        was, now = protection_words(then, words), protection_words(held, words)
        if was != now:
            alike.setdefault(f"{was} → {now}. {_as_sentence(held.why)}", []).append(name)
        elif name in touched:
            alike.setdefault(f"{now}. {_as_sentence(held.why)}", []).append(name)
    return [f"{', '.join(names)}: {told}" for told, names in alike.items()]


def _entry_line(entry: LayupEntry, before: CraftRecord, *, new: bool) -> str:
    if new and all(one.id != entry.id for one in before.entries):
        return f"Entered as {entry.id}."
    gone = next((one for one in before.entries if one.replaces == entry.id), None)
    if gone is None:
        return f"{entry.id} is on record already."
    return (
        f"{entry.id} is on record already, and {gone.id} took its place."
        f" `laidup layup withdraw {gone.id}` brings it back."
    )


def _as_json(
    entries: list[LayupEntry],
    circuits: dict[str, tuple[Protection, Protection]],
    touched: set[str],
    breaches: list[Breach],
    new: int,
) -> dict[str, Any]:
    return {
        "entry": entries[0].id if entries else None,
        "entries": [one.id for one in entries],
        "new": bool(new),
        "circuits": {
            name: {"state": str(held.state), "before": str(then.state), "why": held.why}
            for name, (then, held) in circuits.items()
            if name in touched or then.state is not held.state
        },
        "breaches": [{"rule": one.rule, "why": one.why} for one in breaches],
    }


def _as_sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."
