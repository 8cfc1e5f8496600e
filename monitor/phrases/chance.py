"""A chance in words: how many nights like this one, of ten or fewer, bring it."""

_RARE = (12, 15, 20, 30, 50)


def nights_like_this(chance: float) -> str:
    """Say a chance as nights of a number, such as ``7 nights in 10 like this``.

    Parameters
    ----------
    chance : float
        From 0 to 1. Below one in ten it is one night of more; from 0.95 on nothing more certain
        is said than nine of ten, because no night is.
    """
    at_least, nights, of = _as_nights(chance)
    if not nights:
        return "hardly a night like this"
    more = "more than " if at_least else ""
    return f"{more}{nights} night{'' if nights == 1 else 's'} in {of} like this"


def nights_in_short(chance: float) -> str:
    """The same for a line that has no room: ``7 in 10``, ``1 in 20``, ``over 9 in 10``."""
    at_least, nights, of = _as_nights(chance)
    if not nights:
        return "hardly"
    # Set so that no line ends in the middle of it.
    return f"{'over ' if at_least else ''}{nights}\N{NO-BREAK SPACE}in\N{NO-BREAK SPACE}{of}"


def _as_nights(chance: float) -> tuple[bool, int, int]:
    """Whether it is more than that, so many nights, and of how many; 0 nights: hardly any."""
    if chance >= 0.95:
        return True, 9, 10
    if chance >= 0.095:
        return False, round(10 * chance), 10
    if chance >= 1.0 / (2 * _RARE[-1]):
        return False, 1, min(_RARE, key=lambda each: abs(1.0 / each - chance))
    return False, 0, 1
