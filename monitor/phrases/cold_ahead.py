"""How cold the nights ahead may get, in a sentence beside work that is left."""

from monitor.phrases.names import plain
from monitor.wording import Wording
from monitor.yard.cold_ahead import ColdAhead
from monitor.yard.space import OUTDOORS, Space


def cold_ahead_text(ahead: ColdAhead, space: Space, words: Wording) -> str:
    """Say the coldest that a space may come to, and by whose word."""
    if not ahead.is_known:
        return f"Nobody knows how cold {plain(space.name)} will get."
    coldest = words.temperature(ahead.coldest_c, 0)
    if ahead.by_forecast:
        where = "" if space.kind in OUTDOORS else " outdoors"
        return f"Down to {coldest}{where} in the nights ahead, by {plain(ahead.by_forecast)}."
    return f"Tonight may bring it to {coldest}."
