"""By which program, settings and profile a judgement was made: what it came of, years later."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """What a judgement was made by; empty where an earlier program kept none of it."""

    program: str = ""  # version
    settings: str = ""  # digest of the yard's file
    profile: str = ""  # digest of the craft's profile and fittings; empty also of a space


NOT_KEPT = Origin()
