"""``laidup layup plan``, ``supplies`` and ``review``: the job on each craft and the whole yard."""

import argparse
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from monitor.commands.opening import Opened, daemon_clock, open_read_only, read_craft_in_care
from monitor.commands.printing import print_json, print_text
from monitor.craft.canonical import utc_text
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.plan.step import JobPlan, JobStep
from monitor.craft.plan.yard import (
    DAY_MINUTES,
    Supply,
    Workload,
    reckon_workload,
    sum_supplies,
)
from monitor.craft.record import CraftRecord, layup_plan
from monitor.craft.rules.case import Breach
from monitor.craft.rules.examine import examine
from monitor.craft.rules.mending import step_that_mends
from monitor.errors import QuantityError
from monitor.phrases.figures import plan_json
from monitor.phrases.plan import (
    also_words,
    asked_words,
    starts_from_nothing,
    step_sentence,
)
from monitor.phrases.supplies import minutes_words, supply_words, workload_words
from monitor.reports.backlog import backlog_json, read_backlog
from monitor.reports.backlog_lines import backlog_lines
from monitor.units import DURATION, TEMPERATURE, parse_quantity
from monitor.wording import Wording
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.readers import words_for

_NOON = 12
_Planned = tuple[CraftRecord, JobPlan]


def show_plans(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
    """Every step for each craft that is named; for the whole yard a line a craft, and the sum."""
    words = bench.wording_for(as_json=arguments.json)
    found = _plan_records(bench, records, at, arguments)
    if arguments.json:
        print_json([plan_json(plan, record.profile, words) for record, plan in found])
        return
    print_text(f"To stand {words.temperature(low_of(bench, arguments.low))}:")
    to_do = [(record, plan) for record, plan in found if plan.steps]
    show = _show_steps if arguments.craft else _show_first_step
    for record, plan in to_do:
        show(record, plan, words)
    _print_named("Nothing missing by the record", (one for one, plan in found if not plan.steps))
    if arguments.craft:
        gone = (one for one in records if not one.in_yard_at(at))
        _print_named("Not in the yard, and so without a plan", gone)
    elif to_do:
        print_text(
            "\n`laidup layup plan CRAFT` shows every step; `layup supplies`, what they take."
        )
    print_cautions((step for _, plan in found for step in plan.steps), words)


def _title(record: CraftRecord) -> str:
    return f"{record.craft.id} {record.craft.name}"


def _print_named(heading: str, records: Iterable[CraftRecord]) -> None:
    """Some craft in a line; nothing where there is none."""
    named = ", ".join(map(_title, records))
    if named:
        print_text(f"\n{heading}: {named}.")


def _show_first_step(record: CraftRecord, plan: JobPlan, words: Wording) -> None:
    """A craft's plan in a line: its first step, and how many more there are."""
    first = step_sentence(plan.steps[0], record.profile, words)
    more = f" And {len(plan.steps) - 1} more." if len(plan.steps) > 1 else ""
    why = " Its record cannot be read: this starts from nothing." if plan.unreadable else ""
    print_text(f"  {_title(record)}, {minutes_words(plan.minutes)}: {first}{more}{why}")


def show_supplies(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
    """What all plans together use up, and when a crew is through with them."""
    words = bench.wording_for(as_json=arguments.json)
    plans = [plan for _, plan in _plan_records(bench, records, at, arguments)]
    buy = sum_supplies(plans)
    minutes = (
        DAY_MINUTES if arguments.day is None else parse_quantity(arguments.day, DURATION) * 60.0
    )
    begins_on = _first_day_of_work(at.astimezone(bench.yard.zone))
    hands = bench.yard.duty.hands if arguments.hands is None else arguments.hands
    load = reckon_workload(plans, begins_on, hands, minutes)
    if arguments.json:
        print_json(_supplies_json(buy, load))
        return
    for supply in buy:
        print_text(f"{supply_words(supply, words)}.")
    if not buy:
        print_text("No plan takes antifreeze.")
    print_text(f"{workload_words(load)}.")


def _first_day_of_work(now: datetime) -> date:
    """Today in the morning; from noon on tomorrow, for what is left of a day is no day of work."""
    return now.date() if now.hour < _NOON else now.date() + timedelta(days=1)


def low_of(bench: Opened, said: str | None) -> float:
    """The low that was asked for, in °C, or else what the yard's lay-ups are to stand."""
    return bench.yard.design_low_c if said is None else parse_quantity(said, TEMPERATURE)


def _plan_records(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> list[_Planned]:
    low_c = low_of(bench, arguments.low)
    shelf = bench.yard.shelf or USUAL_SHELF
    return [
        (record, layup_plan(record, bench.shelters, at, low_c, shelf))
        for record in records
        if record.in_yard_at(at)
    ]


def _show_steps(record: CraftRecord, plan: JobPlan, words: Wording) -> None:
    print_text(f"\n{record.craft.id} {record.craft.name}, {minutes_words(plan.minutes)}")
    if plan.unreadable:
        print_text(f"  {starts_from_nothing(plan)}")
    for number, step in enumerate(plan.steps, start=1):
        print_text(f"  {number}. {step_sentence(step, record.profile, words)}")
        note, also = asked_words(step), also_words(step)
        if note:
            print_text(f"     Note: {note}.")
        if also:
            print_text(f"     Would also do: {also}.")


def show_review(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
    """The record held against the rules of the trade; what mends a breach is a step of the plan."""
    words = bench.wording_for(as_json=arguments.json)
    shelf = bench.yard.shelf or USUAL_SHELF
    rows = []
    kept = []
    for record in records:
        plan = layup_plan(record, bench.shelters, at, bench.yard.design_low_c, shelf)
        breaches = examine(record, bench.shelters, at, words)
        mended = [(one, step_that_mends(one, record, plan)) for one in breaches]
        rows.append(
            {
                "craft": record.craft.id,
                "breaches": [_breach_json(one, step, plan, record, words) for one, step in mended],
            }
        )
        if not breaches:
            kept.append(f"{record.craft.id} {record.craft.name}")
        elif not arguments.json:
            print_text(f"{record.craft.id} {record.craft.name}")
            for one, step in mended:
                remedy = (
                    one.remedy
                    if step is None
                    else f"Step {_place_in_plan(step, plan)} of its plan."
                )
                print_text(f"  {one.rule}: {one.why}. {remedy}")
            _show_cited(record, plan, [step for _, step in mended if step is not None], words)
    if arguments.json:
        print_json(rows)
    elif kept:
        print_text(f"Every rule kept: {', '.join(kept)}.")


def _show_cited(
    record: CraftRecord, plan: JobPlan, cited: Sequence[JobStep], words: Wording
) -> None:
    for number, step in enumerate(plan.steps, start=1):
        if step in cited:
            print_text(f"  Step {number}: {step_sentence(step, record.profile, words)}")


def _place_in_plan(step: JobStep, plan: JobPlan) -> int:
    return plan.steps.index(step) + 1


def _breach_json(
    one: Breach, step: JobStep | None, plan: JobPlan, record: CraftRecord, words: Wording
) -> dict[str, Any]:
    return {
        "rule": one.rule,
        "part": one.part,
        "at": None if one.at is None else utc_text(one.at),
        "entry": one.entry,
        "why": one.why,
        "remedy": one.remedy if step is None else step_sentence(step, record.profile, words),
        "step": None if step is None else _place_in_plan(step, plan),
    }


def _supplies_json(buy: Sequence[Supply], load: Workload) -> dict[str, Any]:
    return {
        "minutes": load.minutes,
        "hands": load.hands,
        "day_minutes": load.day_minutes,
        "begins_on": load.begins_on.isoformat(),
        "done_on": load.done_on.isoformat(),
        "untimed_steps": load.untimed,
        "supplies": [
            {
                "product": one.product.name,
                "lot": one.product.lot,
                "glycol_mass_fraction": one.product.strength,
                "quantity_l": one.litres,
                "containers": one.containers,
                "container_l": one.product.container_l,
                "on_shelf": not one.product.to_buy,
                "craft": list(one.craft),
            }
            for one in buy
        ],
    }


def print_cautions(steps: Iterable[JobStep], words: Wording) -> None:
    """Print the cautions that some steps call for, whole."""
    called_for = {str(care) for step in steps for care in step.cautions}
    cautions = [one for one in Caution if one.value in called_for]
    for one in [*cautions, Caution.NOT_LIFE_SAFETY]:
        print_text(f"\n{words.in_reader_units(CAUTION_TEXT[one])}")


def run_backlog(arguments: argparse.Namespace) -> int:
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
    for craft_id, name, work in said.craft:
        print_text(f"  {craft_id}  {name}, {work}")
    return 0
