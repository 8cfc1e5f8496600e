"""What tonight brings for one craft, in a sentence, and for each circuit of it in a few words."""

from collections.abc import Sequence
from math import inf, isfinite, nan

from monitor.craft.stored import StoredCraft
from monitor.phrases.frost import chance_ice_breaks, chance_sentences
from monitor.phrases.names import judged_part_name, plain
from monitor.phrases.numbers import (
    margin_words,
    nights_in_words,
    nights_like_this,
    numbers_in_line,
)
from monitor.phrases.standings import is_well, row_of, worst_first
from monitor.wording import Wording, listed_first
from monitor.yard.assessment import Assessment, Standing, Urgency
from monitor.yard.frost_facts import FrostFacts, UnreadFrostFacts

DO_NOT_START = "Do not start it: there is or was ice in it."
_NAMED = 2  # parts; the rest are counted
_PRESSING = frozenset({Urgency.IMMEDIATE, Urgency.EXPECTED})
_HARDLY = 0.01  # as `nights_like_this` has it


def has_ice(circuits: Sequence[Assessment]) -> bool:
    """Whether there is or was ice in a craft, and nobody has looked into it since."""
    return any(row_of(each).too_late for each in circuits)


def is_pressing(seen: Assessment) -> bool:
    """Whether a judgement asks somebody to come this night."""
    return seen.calls_for_act and seen.urgency in _PRESSING


def craft_sentences(
    circuits: Sequence[Assessment],
    others: Sequence[Assessment],
    craft: StoredCraft,
    words: Wording,
) -> str:
    """How a craft stands tonight, the worst first, whether that is frost or something else.

    Parameters
    ----------
    circuits : sequence of Assessment
        Every one, the worst first.
    others : sequence of Assessment
        What else is judged of it: its battery, its metal, its maintainer, its record.
    craft : StoredCraft
    words : Wording

    Notes
    -----
    "Safe" is never the first word while anything of the craft needs work this night.
    """
    asking = sorted((each for each in others if is_pressing(each)), key=worst_first)
    frost = tonight_sentence(circuits, craft, words)
    if asking or not all(is_well(each) for each in others):
        frost = frost.replace("Safe tonight:", "Safe from frost tonight:", 1)
    if not asking:
        return frost
    else_asked = f"To see to tonight: {_parts_and_standings(asking, craft)}."
    frost_first = bool(circuits) and worst_first(circuits[0]) < worst_first(asking[0])
    return " ".join((frost, else_asked) if frost_first else (else_asked, frost))


def _parts_and_standings(asking: Sequence[Assessment], craft: StoredCraft) -> str:
    """``battery, may have frozen; flywheel and crankshaft, sweating``."""
    by_word: dict[str, list[Assessment]] = {}
    for each in asking:
        by_word.setdefault(row_of(each).word, []).append(each)
    said = []
    for word, those in by_word.items():
        named = _named([each for each in those if each.subject.part], craft)
        said.append(f"{named}, {word}" if named else word)
    return "; ".join(said)


def tonight_sentence(
    circuits: Sequence[Assessment], craft: StoredCraft, words: Wording, asked: bool = True
) -> str:
    """How a craft stands against the coming night, by the worst of its circuits.

    Parameters
    ----------
    circuits : sequence of Assessment
        Every one, the worst first.
    craft : StoredCraft
    words : Wording
    asked : bool
        Whether it says by when to act.
    """
    if not circuits:
        return "Nothing of it holds water that could freeze."
    iced = [each for each in circuits if row_of(each).too_late]
    exposed = [each for each in circuits if each.standing is Standing.EXPOSED]
    if iced:
        saved = f" Still to save: {_named(exposed, craft)}." if exposed else ""
        return f"Ice is or was in {_named(iced, craft)}.{saved}"
    if exposed:
        return _exposed_sentence(exposed, craft, words, asked=asked)
    unread = [each for each in circuits if each.standing is Standing.NOT_KNOWN]
    if unread:
        return f"Nobody knows how it stands tonight: {_named(unread, craft)} cannot be judged."
    least = min(circuits, key=_room_k)
    if least.margin_k == inf:
        return "Safe tonight: no water is left in it that could freeze."
    name = plain(judged_part_name(least, craft))
    if not _is_thin(circuits):
        return f"Safe tonight: {name}, {margin_words(least, words)}."
    if least.margin_k >= 0.0:
        return f"Little to spare tonight: {name}, {margin_words(least, words)}."
    chance = _chance_of_ice(least)
    often = f", {nights_like_this(chance)}" if isfinite(chance) else ""
    return f"Little to spare tonight: ice may begin in {_lower(name)}{often}, and hardly break it."


def _exposed_sentence(
    exposed: Sequence[Assessment], craft: StoredCraft, words: Wording, *, asked: bool
) -> str:
    chance = max((_chance_of_ice(each) for each in exposed), default=nan)
    often = f", {nights_like_this(chance)}" if isfinite(chance) else ""
    hours = [each.deadline for each in exposed if each.deadline and each.deadline > words.now]
    by = f" Act by {words.clock(min(hours))}." if hours and asked else ""
    return f"Not safe tonight: ice in {_named(exposed, craft)}{often}.{by}"


def _chance_of_ice(seen: Assessment) -> float:
    facts = seen.facts
    if not isinstance(facts, FrostFacts):
        return nan
    known = chance_ice_breaks(facts) if facts.mixed else facts.chance_first_ice
    return known if isfinite(known) else -inf


def _room_k(seen: Assessment) -> float:
    return seen.margin_k if isfinite(seen.margin_k) else inf


def _is_thin(circuits: Sequence[Assessment]) -> bool:
    return any(each.standing in {Standing.THIN, Standing.SLUSH} for each in circuits)


def _named(those: Sequence[Assessment], craft: StoredCraft) -> str:
    names = [_lower(plain(judged_part_name(each, craft))) for each in those]
    return listed_first(list(dict.fromkeys(names)), _NAMED)


def _lower(name: str) -> str:
    """A part's name inside a sentence; what is written in capitals stays so."""
    return name if name[:2].isupper() else f"{name[:1].lower()}{name[1:]}"


def circuit_in_short(seen: Assessment, words: Wording) -> str:
    """What tonight brings for one circuit, in the few words of a line beside its name."""
    if seen.limit_c == -inf:
        return "seen dry"
    if not isinstance(seen.facts, FrostFacts):
        return "not judged"
    if row_of(seen).too_late:
        through = seen.ends is not None and seen.standing is not Standing.SOLID
        return f"frozen through about {words.clock(seen.ends)}" if through else ""
    chance = _chance_of_ice(seen)
    if seen.standing is Standing.EXPOSED and isfinite(chance):
        ahead = seen.deadline is not None and seen.deadline > words.now
        since = f", from {words.clock(seen.deadline)}" if ahead else ""
        return f"ice {nights_in_words(chance)}{since}"
    return margin_words(seen, words, brief=seen.standing is Standing.HOLDING)


def circuit_tonight(seen: Assessment, words: Wording) -> str:
    """What tonight brings for one circuit: its chance in nights, or why it needs none."""
    facts = seen.facts
    if seen.limit_c == -inf:
        return "Seen dry: nothing in it can freeze."
    if isinstance(facts, UnreadFrostFacts):
        return "Not judged yet." if facts.never_judged else "No air reading: nobody knows."
    if row_of(seen).too_late or not isinstance(facts, FrostFacts):
        return numbers_in_line(seen, words)
    said = chance_sentences(facts)
    if seen.standing is Standing.HOLDING and chance_ice_breaks(facts) < _HARDLY:
        said = "Ice hardly a night like this."
    by = ""
    if seen.standing is Standing.EXPOSED and seen.deadline and seen.deadline > words.now:
        by = f" First ice from {words.clock(seen.deadline)} on."
    room = margin_words(seen, words)
    return f"{said}{by} {room[:1].upper()}{room[1:]}.".strip()
