"""``laidup calc``: each judgement's arithmetic by hand, so that a person can check it."""

import argparse

from monitor.commands.calc import air as calc_air
from monitor.commands.calc import battery as calc_battery
from monitor.commands.calc import damp as calc_damp
from monitor.commands.calc import ice as calc_ice
from monitor.commands.calc import mix as calc_mix
from monitor.commands.calc import night as calc_night
from monitor.commands.calc import tonight as calc_tonight
from monitor.commands.calc.answer import Verbs


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
