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
    if chance >= 0.95:
        return "more than 9 nights in 10 like this"
    if chance >= 0.095:
        tenths = round(10 * chance)
        return f"{tenths} night{'' if tenths == 1 else 's'} in 10 like this"
    if chance >= 1.0 / (2 * _RARE[-1]):
        of = min(_RARE, key=lambda each: abs(1.0 / each - chance))
        return f"1 night in {of} like this"
    return "hardly a night like this"
