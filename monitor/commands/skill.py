"""``laidup skill``: how true what was said of past nights turned out to be."""

import argparse
from datetime import timedelta
from math import isfinite

from monitor.commands.opening import daemon_clock, open_read_only
from monitor.commands.printing import print_json, print_table
from monitor.errors import QuantityError
from monitor.reports.skill import FEWEST_NIGHTS, Skill, skill_json, skill_lines, skill_of
from monitor.yard.readers import words_for


def run(arguments: argparse.Namespace) -> int:
    """Show how true the words were."""
    if arguments.days < 1:
        raise QuantityError(f"--days {arguments.days}: give a number of days above 0")
    with open_read_only(arguments) as here:
        now = daemon_clock(here.store).now()
        first = now.astimezone(here.yard.zone).date() - timedelta(days=arguments.days)
        with here.store.snapshot() as tx:
            skill = skill_of(tx.said_nights.nights_since(first))
        wording = words_for(here.yard, now)
    if arguments.json:
        print_json(None if skill is None else skill_json(skill))
    elif skill is None:
        print(
            f"Not known yet: fewer than {FEWEST_NIGHTS} nights can be held against what was said."
            " laidup keeps what it says each evening; ask again in two or three weeks."
        )
    else:
        for line in skill_lines(skill, wording):
            print(line)
        _show(skill)
    return 0


def _show(skill: Skill) -> None:
    from rich.table import Table

    if skill.tenths:
        table = Table("Chance of air below freezing", "Nights", "Said", "Came", "If true, 9 in 10")
        for each in skill.tenths:
            table.add_row(
                f"{100 * each.low:.0f} to {100 * each.low + 10:.0f} %",
                str(each.nights),
                f"{100 * each.said:.0f} %",
                f"{100 * each.happened:.0f} %{'' if each.consistent else ' (off)'}",
                f"{100 * each.fewest:.0f} to {100 * each.most:.0f} %",
            )
        print_table(table)
    table = Table("Better than", "Chances (Brier skill)", "Lows (CRPS skill)")
    for name, chances, lows in (
        ("this yard's climate", skill.brier_over_climate, skill.crps_over_climate),
        ("last night again", skill.brier_over_persistence, skill.crps_over_persistence),
    ):
        table.add_row(name, _skill(chances), _skill(lows))
    print_table(table)
    print("1 is perfect, 0 no better, below 0 worse.")


def _skill(value: float) -> str:
    return f"{value:.2f}" if isfinite(value) else "not known"
