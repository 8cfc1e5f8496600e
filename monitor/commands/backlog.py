"""``laidup backlog``: craft not laid up, by when they are at this pace, and the cold before it."""

import argparse

from monitor.commands.opening import daemon_clock, open_read_only, read_craft_in_care
from monitor.commands.printing import print_json, print_text
from monitor.errors import QuantityError
from monitor.reports.backlog import backlog_json, read_backlog
from monitor.reports.backlog_lines import backlog_lines
from monitor.yard.readers import words_for


def run(arguments: argparse.Namespace) -> int:
    """Tell the backlog."""
    if arguments.hands is not None and arguments.hands < 1:
        raise QuantityError(f"--hands {arguments.hands}: give at least one person")
    with open_read_only(arguments) as here:
        now = daemon_clock(here.store).now()
        craft = read_craft_in_care(here, now)
        with here.store.snapshot() as tx:
            backlog = read_backlog(tx, here.yard, craft, now, arguments.hands)
        if arguments.json:
            print_json(backlog_json(backlog))
            return 0
        said = backlog_lines(backlog, here.yard, words_for(here.yard, now))
    for line in (said.first, *said.facts, *said.needed):
        print_text(line)
    for craft_id, line in said.craft:
        print_text(f"  {craft_id}  {line}")
    return 0
