"""Flags of ``laidup calc``: each judgement's arithmetic by hand."""

from monitor.commands.parsers.calc_air import add_air, add_damp, add_night, add_tonight
from monitor.commands.parsers.calc_craft import add_battery, add_ice, add_mix
from monitor.commands.parsers.calc_flags import Verbs
from monitor.commands.parsers.flags import Children


def add_parser(children: Children, about: str) -> None:
    """Add the command with a verb for each sum."""
    parser = children.add_parser(
        "calc",
        help=about,
        description=(
            "Does one sum of the judgement by hand and says what the number rests on. Every"
            " value carries its unit: 20C or 68F, 0.4L or 14floz, 12.4V, 6h."
        ),
    )
    verbs = Verbs(parser)
    for add_family in (add_air, add_mix, add_ice, add_battery, add_tonight, add_night, add_damp):
        add_family(verbs)
