"""The question which circuits an act was done on, answered by number, id, name or nearly so."""

import re
from collections.abc import Mapping, Sequence

from monitor.commands.layup.question import (
    Bench,
    choices_meant,
    nearest_choices,
)
from monitor.craft.acts import ACTS, ON_ENGINES
from monitor.craft.asking import circuits_to_offer
from monitor.craft.layup import Act
from monitor.craft.record import CraftRecord


def ask_circuits(act: Act, record: CraftRecord, bench: Bench) -> list[str] | None:
    """Ask on which circuits an act was done.

    Parameters
    ----------
    act : Act
    record : CraftRecord
        Of the craft, whose type says which circuits the act can reach.
    bench : Bench
        Where the question is put.

    Returns
    -------
    list of str, or None
        Ids; None where the act is on the craft or its engines as a whole.
    """
    offered = circuits_to_offer(act, record.profile)
    named = {name: record.profile.find(name).circuit.name for name in offered}
    needed = "circuits" in ACTS[act].needs
    if len(offered) == 1:
        return list(offered) if _is_meant(act, named[offered[0]], bench, needed=needed) else None
    engines = record.profile.engine_names
    _list_circuits(named, engines, bench)
    none = "" if needed else f", or Enter for {_words_for_none(act, record)}"
    together = {"all": list(offered)} | {
        one: [name for name in offered if name.startswith(f"{one}-")] for one in engines
    }
    while True:
        text = bench.read_typed(f"Which circuits (numbers or names, or all{none})?").lower()
        if text in together:
            return together[text]
        chosen = _circuits_named(text, named, bench, act)
        if chosen is None:
            continue
        if not chosen and needed:
            bench.say("  Protection belongs to a circuit: name at least one.")
            continue
        return chosen or None


def _list_circuits(named: Mapping[str, str], engines: Sequence[str], bench: Bench) -> None:
    for number, (name, words) in enumerate(named.items(), start=1):
        bench.say(f"  {number}: {name} ({words})")
    if engines:
        bench.say(f"  {' or '.join(engines)}: all of that engine")


def _is_meant(act: Act, only: str, bench: Bench, *, needed: bool) -> bool:
    """Whether the one circuit that an act can reach is meant; it is where the act needs one."""
    if needed:
        bench.say(f"  {only}: the only circuit for it.")
        return True
    # Nothing is assumed: oil may be the engine's, of which no circuit is told.
    other = " No is the engine's oil." if act is Act.OIL_CHANGED else ""
    return bench.ask_agreement(f"On the {only}?{other}", enter_is=None)


def _words_for_none(act: Act, record: CraftRecord) -> str:
    """What an act is on where nobody names a circuit."""
    if act is Act.OIL_CHANGED:
        return "the engine's oil"
    if act in ON_ENGINES:
        return "every engine" if record.profile.engine_names else "the engine"
    return "none of them"


def _circuits_named(
    text: str, named: Mapping[str, str], bench: Bench, act: Act
) -> list[str] | None:
    """Ids that a text names, by number, id or name, or nearly; None where one of them is none."""
    offered = tuple(named)
    also = [(name.lower(), key) for key, name in named.items()]
    chosen: list[str] = []
    for part in _split_circuits(text, offered, also):
        found = choices_meant(part, offered, also, by_number=True)
        near = [] if found else nearest_choices(part, offered, also)
        if len(found) > 1:
            bench.say(f"  {part!r} may be {', '.join(found)}.")
            return None
        if not found and len(near) != 1:
            bench.say(f"  {part!r} is no circuit that {ACTS[act].name} says something of.")
            return None
        if not found and not bench.ask_agreement(f"  Did you mean {near[0]}?", enter_is=None):
            return None
        chosen.extend(found or near)
    return list(dict.fromkeys(chosen))


def _split_circuits(
    text: str, offered: tuple[str, ...], also: Sequence[tuple[str, str]]
) -> list[str]:
    """The parts of a list of circuits; words in a row stay one name where they are no list."""
    found: list[str] = []
    for part in re.split(r"[,;+]", text):
        words = part.split()
        whole = "-".join(words)
        are_a_list = all(choices_meant(word, offered, also, by_number=True) for word in words)
        if len(words) > 1 and (" ".join(words) in dict(also) or whole in offered):
            found.append(" ".join(words) if whole not in offered else whole)
        elif len(words) > 1 and not are_a_list and nearest_choices(whole, offered, also):
            found.append(whole)
        else:
            found.extend(words)
    return found
