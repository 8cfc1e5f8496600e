"""A judgement's numbers as people read them: limit, times, room between, chance in nights."""

import math

from monitor.phrases.standings import condensation_point_name, names_of_hazard
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.battery_facts import BatteryFacts
from monitor.yard.frost_facts import FrostFacts

_BEGUN = frozenset({Standing.ICING, Standing.SOLID})  # when it began is past
_RARE = (12, 15, 20, 30, 50)


def limit_name(seen: Assessment) -> str:
    """What the limit of a judgement is called."""
    if seen.hazard is Hazard.DAMP:
        return condensation_point_name(seen.limit_c)
    return names_of_hazard(seen.hazard).limit


def margin_words(
    seen: Assessment, wording: Wording, point: str = "", *, brief: bool = False
) -> str:
    """Say how much room is left, in words that need no sign.

    Parameters
    ----------
    seen : Assessment
    wording : Wording
    point : str, optional
        What to call the point above which metal stays dry, where its name stands beside it.
    brief : bool
        Without the night that the margin is of, for one line of many.
    """
    margin_k = seen.margin_k
    if math.isnan(margin_k):
        return "margin not known"
    if margin_k == math.inf:
        return "seen dry, nothing to freeze" if seen.hazard is Hazard.FROST else "no limit"
    if seen.hazard is Hazard.DAMP:
        side = "above" if margin_k >= 0 else "below"
        return f"{wording.difference(margin_k)} {side} {point or limit_name(seen)}"
    side = "to spare" if margin_k >= 0 else "too cold for it"
    night = "" if brief else _on_which_night(seen)
    return f"{wording.difference(margin_k)} {side}{night}"


def _on_which_night(seen: Assessment) -> str:
    """Which night the margin is of: not the middle one, and no chance of anything.

    It is the coldest of as many such nights as the loss is worth evenings of work: of 20 for metal,
    of 10 for hoses and batteries. One word stands for both, for two counts side by side would read
    as two chances.
    """
    facts = seen.facts
    if not isinstance(facts, FrostFacts | BatteryFacts) or not 0.0 < facts.act_from_chance < 1.0:
        return ""
    return " on the coldest night it must stand"


def has_numbers(seen: Assessment) -> bool:
    """Whether a judgement is of something that is measured against a limit."""
    return bool(names_of_hazard(seen.hazard).begins)


def numbers_in_line(seen: Assessment, wording: Wording) -> str:
    """The figures of a judgement in one line; empty where it has none."""
    if not has_numbers(seen):
        return ""
    if seen.limit_c == -math.inf:
        return margin_words(seen, wording)
    names = names_of_hazard(seen.hazard)
    said = _damp_figures(seen, wording) if seen.hazard is Hazard.DAMP else _low(seen, wording)
    if not math.isnan(seen.margin_k):
        said.append(margin_words(seen, wording))
    if _may_be_iced(seen):
        return ", ".join([*said, "may hold ice already"])
    if seen.deadline and seen.standing not in _BEGUN:
        said.append(f"{names.begins} about {wording.clock(seen.deadline)}")
    over = seen.ends and seen.deadline and seen.ends <= seen.deadline  # too thin to speak of
    if seen.ends and seen.standing is not Standing.SOLID and not over:
        said.append(f"{names.ends} about {wording.clock(seen.ends)}")
    return ", ".join(said)


def _may_be_iced(seen: Assessment) -> bool:
    """Whether its hours of ice rest on how cold it began, which nobody knows."""
    return isinstance(seen.facts, FrostFacts) and seen.facts.ice_is_assumed


def _damp_figures(seen: Assessment, wording: Wording) -> list[str]:
    """What metal is at, and the point above which it stays dry."""
    metal = _known("metal", seen.now_c, wording)
    return metal + _known(limit_name(seen), seen.limit_c, wording)


def _low(seen: Assessment, wording: Wording) -> list[str]:
    """What a body or the air can stand, and how cold it comes."""
    said = []
    limit = names_of_hazard(seen.hazard).limit_in_line
    if limit and not math.isnan(seen.limit_c):
        said.append(f"{limit} {wording.ice_point(seen.limit_c)}")
    if _on_which_night(seen):
        return said  # the coldest night that it must stand decides; tonight's low is another
    at = f" about {wording.clock(seen.low_at)}" if seen.low_at else ""
    reaches = "coming low" if seen.hazard is Hazard.AIR else "reaches"
    return said + [low + at for low in _known(reaches, seen.low_c, wording)]


def _known(name: str, value_c: float, wording: Wording) -> list[str]:
    return [] if math.isnan(value_c) else [f"{name} {wording.temperature(value_c)}"]


def nights_like_this(chance: float) -> str:
    """Say a chance as nights of a number, such as ``7 nights in 10 like this``.

    Parameters
    ----------
    chance : float
        From 0 to 1. Below one in ten it is one night of more; from 0.95 on nothing more certain
        is said than nine of ten, because no night is.
    """
    return f"{nights_in_words(chance)} like this"


def nights_in_words(chance: float) -> str:
    """The same where it is plain which night is meant: ``7 nights in 10``, ``hardly a night``."""
    at_least, nights, of = as_nights(chance)
    if not nights:
        return "hardly a night"
    more = "more than " if at_least else ""
    return f"{more}{nights} night{'' if nights == 1 else 's'} in {of}"


def nights_in_short(chance: float) -> str:
    """The same for a line that has no room: ``7 in 10``, ``1 in 20``, ``over 9 in 10``."""
    at_least, nights, of = as_nights(chance)
    if not nights:
        return "hardly"
    # Set so that no line ends in the middle of it.
    return f"{'over ' if at_least else ''}{nights}\N{NO-BREAK SPACE}in\N{NO-BREAK SPACE}{of}"


def as_nights(chance: float) -> tuple[bool, int, int]:
    """A chance from 0 to 1 as nights: whether it is more, how many, of how many; 0: hardly any."""
    if chance >= 0.95:
        return True, 9, 10
    if chance >= 0.095:
        return False, round(10 * chance), 10
    if chance >= 1.0 / (2 * _RARE[-1]):
        return False, 1, min(_RARE, key=lambda each: abs(1.0 / each - chance))
    return False, 0, 1
