"""One picture a kind of event: what was read, what was judged, what was told, what was true."""

import itertools
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.figure import Figure

from monitor.yard.assessment import Hazard
from simulator.winter import Lived, Winter
from tests.bench.scoring.verdicts import EVENINGS_AT, Event, Score, moment
from tests.bench.scoring.watch import Heard

_READ, _JUDGED, _LIMIT, _TOLD, _TRUE = "0.45", "tab:blue", "tab:red", "tab:orange", "tab:cyan"
Watched = tuple[Winter, Lived, Heard]


class _Kind(NamedTuple):
    hazard: Hazard
    causes: tuple[str, ...]
    around: timedelta
    judged: str
    limit: str


_KINDS = {
    "frost damage": _Kind(
        Hazard.FROST,
        ("frost", "ice"),
        timedelta(days=2),
        "inside, as judged",
        "ice point on record",
    ),
    "first ice": _Kind(
        Hazard.FROST,
        ("frost", "ice"),
        timedelta(days=2),
        "inside, as judged",
        "ice point on record",
    ),
    "sweating": _Kind(
        Hazard.DAMP, ("sweat",), timedelta(days=1.5), "metal, judged", "dew or frost point"
    ),
    "battery freezing": _Kind(
        Hazard.BATTERY, ("battery-freezing",), timedelta(days=4), "battery, judged", "freezes at"
    ),
    "heater loss": _Kind(
        Hazard.AIR, ("heat-loss",), timedelta(days=1), "coldest air, judged", "0 °C"
    ),
}


def draw(watched: Sequence[Watched], total: Score, folder: Path) -> None:
    """Draw every kind of event that happened into a folder, as PNG."""
    folder.mkdir(parents=True, exist_ok=True)
    mpl.rcParams["font.size"] = 9
    by_seed = {winter.seed: (winter, lived, heard) for winter, lived, heard in watched}
    for kind, shape in _KINDS.items():
        events = [one for one in total.events.get(kind, []) if one.seed in by_seed]
        if not events:
            continue
        figure = Figure(figsize=(11.0, 7.0), layout="constrained")
        axes = figure.subplots(2, 1)
        for axis, event in zip(axes, _typical_and_worst(events), strict=True):
            _event(axis, by_seed[event.seed], kind, shape, event)
        figure.savefig(folder / f"{kind.replace(' ', '-')}.png", dpi=110)
    _lows(total, folder)
    _messages(total, folder)


def _typical_and_worst(events: Sequence[Event]) -> tuple[Event, Event]:
    """The median by its lead, and the one that was missed or told of last."""
    ranked = sorted(events, key=lambda one: (np.isfinite(one.lead_h), one.lead_h))
    return ranked[len(ranked) // 2], ranked[0]


def _event(axis: Axes, watched: Watched, kind: str, shape: _Kind, event: Event) -> None:
    winter, lived, heard = watched
    begin, end = event.at - shape.around, event.at + shape.around
    craft, _, part = event.subject.partition("/")
    part = part or {Hazard.DAMP: "engine", Hazard.BATTERY: "battery"}.get(shape.hazard, "")
    whole = heard.said.get((shape.hazard, craft, part), [])
    said = [one for one in whole if begin <= one.at <= end]
    times = [one.at for one in said]
    airs = _airs(winter, lived, _space(winter, craft, shape.hazard))
    for (name, (at, air_c)), style in zip(airs.items(), itertools.cycle(["-", "--"])):
        near = [begin <= one <= end for one in at]
        label = f"{name}, read"
        axis.plot(
            np.array(at)[near],
            air_c[near],
            color=_READ,
            linestyle=style,
            linewidth=0.8,
            label=label,
        )
    axis.plot(times, [one.now_c for one in said], ".-", color=_JUDGED, label=shape.judged)
    if shape.hazard is not Hazard.DAMP:
        low_c = [one.low_c for one in said]
        axis.plot(times, low_c, ":", color=_JUDGED, label="coming low, cold edge")
    axis.plot(times, [one.limit_c for one in said], "--", color=_LIMIT, label=shape.limit)
    for first, last in _true(lived, kind, craft, part, heard.until):
        if first <= end and last >= begin:
            axis.axvspan(max(first, begin), min(last, end), color=_TRUE, alpha=0.25, label="true")
    for one in heard.held:
        here = one.cause in shape.causes and (one.craft or one.space) == craft and one.part == part
        if here and one.begin <= end and one.end >= begin:
            span = (max(one.begin, begin), min(one.end, end))
            axis.plot(
                span, [0.02] * 2, color=_TOLD, linewidth=4, label="alarm stands",
                transform=axis.get_xaxis_transform(),
            )  # fmt: skip
    axis.axvline(event.at, color="black", linewidth=0.8)
    when = "before" if event.lead_h > 0.0 else "after it began"
    lead = f"told {abs(event.lead_h):.1f} h {when}" if np.isfinite(event.lead_h) else "not told"
    axis.set_title(f"{kind}, seed {event.seed}, {event.subject} ({event.note}): {lead}")
    axis.set_ylabel("°C")
    axis.set_xlim(begin, end)
    locator = AutoDateLocator(tz=heard.yard.zone)
    axis.xaxis.set_major_locator(locator)
    axis.xaxis.set_major_formatter(ConciseDateFormatter(locator, tz=heard.yard.zone))
    handles = dict(zip(*reversed(axis.get_legend_handles_labels()), strict=True))
    axis.legend(handles.values(), handles.keys(), loc="center left", bbox_to_anchor=(1, 0.5))


def _space(winter: Winter, craft: str, hazard: Hazard) -> str:
    for record in winter.records["craft"]:
        if record["craft"] == craft:
            return str(record["battery"]["space"] if hazard is Hazard.BATTERY else record["space"])
    return craft


def _airs(winter: Winter, lived: Lived, space: str) -> dict[str, tuple[list[datetime], Any]]:
    found = {}
    for record in winter.records["sensors"]:
        if record["space"] == space and record["mount"] == "air":
            at_s, channels = lived.readings[record["sensor"]]
            at = [datetime.fromtimestamp(one, winter.start.tzinfo) for one in at_s[::2]]
            found[record["sensor"].rpartition("-")[2]] = (at, channels["temperature"][::2])
    return found


def _true(
    lived: Lived, kind: str, craft: str, part: str, until: datetime
) -> list[tuple[datetime, datetime]]:
    """When what the kind is about really held."""
    spells: list[dict[str, Any]] = []
    if kind == "heater loss":
        for space in lived.truth["spaces"]:
            spells += space["heater_lost"] if space["space"] == craft else []
    for one in lived.truth["craft"]:
        if one["craft"] != craft:
            continue
        if kind == "sweating":
            spells += one["metal"]["wet"]
        elif kind == "battery freezing":
            spells.append({"from": one["battery"]["first_ice_at"], "to": None})
        else:
            spells += next(c["ice"] for c in one["circuits"] if c["circuit"] == part)
    return [(moment(one["from"]) or until, moment(one["to"]) or until) for one in spells]


def _lows(total: Score, folder: Path) -> None:
    hour = EVENINGS_AT[-1]
    lows = [low for low in total.lows if low.hour == hour and low.space != "bench"]
    if not lows:
        return
    figure = Figure(figsize=(9.0, 4.2), layout="constrained")
    plane, histogram = figure.subplots(1, 2)
    for space in sorted({low.space for low in lows}):
        here = [low for low in lows if low.space == space]
        plane.plot([x.low_c for x in here], [x.expected_c for x in here], ".", ms=3, label=space)
    ends = [min(low.low_c for low in lows), max(low.low_c for low in lows)]
    plane.plot(ends, ends, color="black", linewidth=0.6)
    plane.set_xlabel("low until noon, read [°C]")
    plane.set_ylabel(f"low expected at {hour}:00 [°C]")
    plane.legend(fontsize=7)
    bins = np.arange(-10.25, 10.5, 0.5)
    for name, errors in (
        ("last night's low again", [x.last_night_c - x.low_c for x in lows]),
        ("expected", [x.expected_c - x.low_c for x in lows]),
    ):
        histogram.hist(np.clip(errors, -10, 10), bins=bins, alpha=0.6, label=name)
    histogram.set_xlabel("said minus read [K]; 10 K and more at the ends")
    histogram.set_ylabel("nights")
    histogram.legend(fontsize=7)
    figure.savefig(folder / "tonights-low.png", dpi=110)


def _messages(total: Score, folder: Path) -> None:
    figure = Figure(figsize=(6.0, 3.6), layout="constrained")
    axis = figure.subplots()
    roles = sorted(total.person_weeks)
    most = max((count for _, count in total.messages), default=1)
    for number, role in enumerate(roles):
        counts = np.bincount([c for who, c in total.messages if who == role], minlength=most + 1)
        share = 100.0 * counts[1:] / (7.0 * total.person_weeks[role])
        axis.bar(np.arange(1, most + 1) + 0.25 * (number - 1), share, width=0.25, label=role)
    axis.set_xticks(range(1, most + 1))
    axis.set_xlabel("messages to one person in one night")
    axis.set_ylabel("share of nights [%]")
    axis.legend()
    figure.savefig(folder / "messages.png", dpi=110)
