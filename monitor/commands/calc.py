"""``laidup calc``: each judgement's arithmetic by hand, so that a person can check it."""

import argparse

from monitor.commands import (
    calc_air,
    calc_battery,
    calc_damp,
    calc_ice,
    calc_mix,
    calc_night,
    calc_tonight,
)
from monitor.commands.calc_answer import Verbs


def add_parser(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command with a verb for each sum."""
    parser = children.add_parser(
        "calc",
        help="do one sum of the judgement by hand",
        description=(
            "Does one sum of the judgement by hand and says what the number rests on. Every"
            " value carries its unit: 20C or 68F, 0.4L or 14floz, 12.4V, 6h."
        ),
    )
    verbs = Verbs(parser)
    for family in (calc_air, calc_mix, calc_ice, calc_battery, calc_tonight, calc_night, calc_damp):
        family.add_verbs(verbs)
