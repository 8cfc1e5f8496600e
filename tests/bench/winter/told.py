"""A drilled winter as lines of a page."""

from collections.abc import Iterator

from tests.bench.winter.drill import Drilled, settled
from tests.bench.winter.verdict import Kept, not_arrived, processor_s, slope, thirds, told_after_h
from tests.bench.winter.yard import START


def lines_of(came: Drilled) -> Iterator[str]:
    """The figures of one winter, then its faults, then what did not hold."""
    calm, kept = came.calm, came.disturbed
    yield f"\n## {came.days} days on {came.kind}\n"
    yield "| | undisturbed | with faults |"
    yield "|---|---|---|"
    yield f"| readings stored | {calm.readings} | {kept.readings} |"
    yield f"| of those acknowledged, lost | {len(calm.lost)} | {len(kept.lost)} |"
    yield f"| kept aside with their reason | {calm.aside} | {kept.aside} |"
    yield f"| doubled or changed | {calm.doubled + calm.changed} | {kept.doubled + kept.changed} |"
    yield f"| alarms raised | {len(calm.alarms)} | {len(kept.alarms)} |"
    yield f"| mails written, arrived | {_mails(calm)} | {_mails(kept)} |"
    missed = len(came.missed)
    yield f"| tellings due by the undisturbed winter, missed | {came.due} | {missed} |"
    yield f"| daemon started | 1 | {came.starts} |"
    calm_steps, steps = settled(came.calm_steps), settled(came.steps)
    for words, what, unit in (
        ("resident memory", "memory_mb", "MB"),
        ("store", "store_mb", "MB"),
    ):
        cells = [
            f"{getattr(one[-1], what):.0f} {unit}, {slope(one, what, 30.0):+.1f} in 30 days"
            for one in (calm_steps, steps)
        ]
        yield f"| {words} at the end | {cells[0]} | {cells[1]} |"
    for words, what in (
        ("write-ahead log, largest", "behind_mb"),
        ("memory, largest", "memory_mb"),
    ):
        cells = [f"{max(getattr(one, what) for one in each):.1f} MB"
                 for each in (came.calm_steps, came.steps)]  # fmt: skip
        yield f"| {words} | {cells[0]} | {cells[1]} |"
    for words, values in (
        (
            "a step's packs until judged",
            [[one.took_s for one in each] for each in (calm_steps, steps)],
        ),
        ("processor for a step", [processor_s(each) for each in (calm_steps, steps)]),
    ):
        cells = ["{:.2f} s, then {:.2f} s".format(*thirds(each)) for each in values]
        yield f"| {words}, median of the first and last third | {cells[0]} | {cells[1]} |"
    yield "\n| fault | times | in /health | gone after | first mail of it, hours after |"
    yield "|---|---|---|---|---|"
    yield from _faults(came)
    failures = came.failures()
    yield f"\nWhat did not hold: {len(failures) or 'nothing'}."
    yield from (f"- {one}" for one in failures)


def _mails(kept: Kept) -> str:
    return f"{len(kept.written)}, {len(kept.written) - len(not_arrived(kept))}"


def _faults(came: Drilled) -> Iterator[str]:
    names = dict.fromkeys(one.fault.name for one in came.struck)
    for name in names:
        these = [one for one in came.struck if one.fault.name == name]
        fault = these[0].fault
        seen = "yes" if all(one.shown for one in these) else "NO"
        longest_s = max(one.gone_s for one in these)
        gone = f"{longest_s:.0f} s" if all(one.gone for one in these) else "NO"
        if not fault.check:
            seen = gone = "-"
        told = [told_after_h(came.disturbed, one, START) for one in these] if fault.words else []
        mail = "; ".join("NO" if one is None else f"{one[0]:.0f} h: {one[1]}" for one in told)
        yield f"| {name}, {fault.hours} h | {len(these)} | {seen} | {gone} | {mail or '-'} |"
