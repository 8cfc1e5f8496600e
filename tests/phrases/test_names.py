"""Names and sentences as one line of printable text, whichever way they are written."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.phrases.names import plain, plain_line

SWAN = "ברבור השלישי"
OPEN, CLOSE = "\u2068", "\u2069"


def base_direction(line: str) -> str:
    """Direction of a paragraph by its first strong letter outside isolates (UAX 9, rule P2)."""
    depth = 0
    for sign in line:
        depth += (sign == OPEN) - (sign == CLOSE)
        if not depth and unicodedata.bidirectional(sign) in {"L", "R", "AL"}:
            return unicodedata.bidirectional(sign)
    return ""


def depths(line: str) -> list[int]:
    found, depth = [], 0
    for sign in line:
        depth += (sign == OPEN) - (sign == CLOSE)
        found.append(depth)
    return found


@pytest.mark.parametrize("limit", [400, 36, 20, 5])
def test_a_sentence_that_begins_with_a_name_from_right_to_left_still_runs_from_left(limit):
    line = plain_line(f"{plain(SWAN)}, Long Shed: pour in 22 L.", limit)
    assert base_direction(line) in {"L", ""}
    assert depths(line)[-1] == 0
    if limit == 400:
        assert line == f"{OPEN}{SWAN}{CLOSE}, Long Shed: pour in 22 L."


def test_what_could_forge_a_line_is_taken_out():
    assert plain_line(f"Teal\r\nBcc: all{CLOSE}\u202e, now", 80) == "Teal Bcc: all , now"


@given(st.text(alphabet=[OPEN, CLOSE, "a", "ב", " ", "\n", "\u202e"]), st.integers(2, 30))
def test_marks_are_always_closed_and_never_before_they_are_opened(text, limit):
    line = plain_line(text, limit)
    assert min(depths(line), default=0) == 0
    assert ([0, *depths(line)])[-1] == 0
    assert not {"\n", "\u202e"} & set(line)
    assert len(line.replace(OPEN, "").replace(CLOSE, "")) <= limit
