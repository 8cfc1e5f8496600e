"""Chances in words."""

import pytest

from monitor.phrases.numbers import nights_like_this


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.72, "7 nights in 10 like this"),
        (0.1, "1 night in 10 like this"),
        (0.05, "1 night in 20 like this"),
        (0.02, "1 night in 50 like this"),
        (0.004, "hardly a night like this"),
        (0.0, "hardly a night like this"),
    ],
)
def test_a_chance_is_said_in_nights(chance, said):
    assert nights_like_this(chance) == said


def test_no_night_is_said_to_be_certain():
    assert nights_like_this(1.0) == "more than 9 nights in 10 like this"
