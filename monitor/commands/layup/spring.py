"""``laidup layup spring``: the steps before each craft's first start, and which are done."""

import argparse
from datetime import datetime

from monitor.commands.layup.plan import print_cautions
from monitor.commands.opening import Opened
from monitor.commands.printing import print_json, print_text
from monitor.craft.record import CraftRecord
from monitor.craft.spring_progress import spring_progress
from monitor.phrases.names import plain
from monitor.phrases.spring_progress import (
    NOTHING_LEFT,
    done_words,
    spring_json,
    state_words,
    step_words,
    ticked_words,
)


def show_spring(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
    """What to do before the first start, in order; what is done of it, and the cautions."""
    words = bench.wording_for(as_json=arguments.json)
    found = [(record, spring_progress(record, bench.shelters, at)) for record in records]
    if arguments.json:
        print_json([spring_json(record, progress, words) for record, progress in found])
        return
    for record, progress in found:
        name = f"{record.craft.id} {plain(record.craft.name)}"
        if not progress.steps:
            print_text(f"{name}: {NOTHING_LEFT[:1].lower()}{NOTHING_LEFT[1:].rstrip('.')}")
            continue
        print_text(f"{name}: before the first start, {done_words(progress)}")
        print_text(f"  {state_words(progress)}")
        for number, one in enumerate(progress.steps, start=1):
            title, sentence = step_words(one, record.profile, words)
            if one.done_by is None:
                print_text(f"  {number}. {title}. {sentence}")
            else:
                print_text(f"  {number}. Done: {title} ({ticked_words(one.done_by, words)})")
    steps = (one.step for _, progress in found for one in progress.steps if one.done_by is None)
    print_cautions(steps, words)
