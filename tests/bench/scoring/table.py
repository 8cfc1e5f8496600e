"""The score as a table of rows, for a terminal and for a page of Markdown."""

from collections.abc import Iterable, Sequence

import numpy as np

from tests.bench.scoring.chances import chance_rows
from tests.bench.scoring.verdicts import EVENINGS_AT, Event, Low, Score

Row = tuple[str, str, str]  # what, how it came out, what is aimed at
_SKIES = ("rack", "row")
_ENOUGH_NIGHTS = 20
_SHEDS = ("long-shed", "far-shed")


def rows(total: Score) -> list[Row]:
    """Every figure of the score."""
    return [
        *_happened(total, "frost damage", "circuits damaged", "all 6 h before", enough_h=6.0),
        *_happened(
            total, "first ice", "first ice (a third of it, in a proven mix)", "", enough_h=0
        ),
        *_alarms(
            total, "frost", "frost alarms followed within 36 h by ice, or 1 K from it", "95 %"
        ),
        *_alarms(total, "frost without heat", "frost alarms while a heater was lost, with ice", ""),
        *_alarms(total, "ice", "ice alarms with ice in that circuit", ""),
        *_happened(total, "sweating", "sweating over 5 g/m2, indoors", "", enough_h=0),
        *_alarms(
            total, "sweat", "sweat alarms with wet metal within 2 h, or 2 h of the hours told", ""
        ),
        *_happened(
            total, "sweating, brought in", "over 5 g/m2 on craft brought in cold", "", enough_h=0
        ),
        *_happened(
            total, "first ice, taken out", "first ice in a day of leaving the heat", "", enough_h=0
        ),
        *_happened(
            total, "frost damage, taken out", "damaged in a day of leaving the heat", "", enough_h=0
        ),
        *_happened(total, "battery freezing", "batteries with ice", "", enough_h=6.0),
        *_alarms(
            total, "battery freezing", "battery alarms with ice in 36 h, or ever within 5 K", ""
        ),
        *_heat(total),
        *chance_rows(total.chances),
        *_lows(total.lows),
        *_messages(total),
    ]


def text(found: Sequence[Row]) -> str:
    """For a terminal."""
    return "\n".join(f"{what:66} {how:>34}  {aim}".rstrip() for what, how, aim in found)


def markdown(found: Sequence[Row]) -> str:
    """For a page."""
    lines = ["| | found | aim |", "|---|---|---|"]
    return "\n".join([*lines, *(f"| {what} | {how} | {aim} |" for what, how, aim in found)]) + "\n"


def _share(part: float, whole: float) -> str:
    return f"{100.0 * part / whole:.1f} % ({part:.0f} of {whole:.0f})" if whole else "none"


def _happened(total: Score, kind: str, name: str, aim: str, enough_h: float) -> list[Row]:
    leads = _leads(total.events.get(kind, []))
    if not leads.size:
        return [(name, "none happened", aim)]
    ahead = leads[np.isfinite(leads)]
    noticed = (f"{name}: an alarm stood", _share(ahead.size, leads.size), "")
    found = [noticed]
    if enough_h:
        enough = _share(float((ahead >= enough_h).sum()), leads.size)
        found.append((f"{name}: alarm {enough_h:.0f} h before", enough, aim))
    if ahead.size:
        spread = f"{np.median(ahead):.1f}, {ahead.min():.1f}"
        found.append((f"{name}: median and worst lead [h]", spread, ""))
    return found


def _leads(events: Iterable[Event]) -> np.ndarray:
    return np.array([event.lead_h for event in events], dtype=np.float64)


def _alarms(total: Score, kind: str, name: str, aim: str) -> list[Row]:
    raised = total.raised.get(kind, [])
    right = sum(each.right for each in raised)
    loosely = sum(each.loosely for each in raised)
    found = [(name, _share(right, len(raised)), aim)]
    if loosely != right:
        found.append(
            ("  or at any later time while the alarm stood", _share(loosely, len(raised)), "")
        )
    return found


def _heat(total: Score) -> list[Row]:
    events = total.events.get("heater loss", [])
    needed = [event for event in events if event.note.startswith("needed")]
    found = []
    for name, some, aim in (
        ("heater lost, below 3 °C outdoors", needed, "45 min"),
        ("heater lost, in mild weather", [e for e in events if e not in needed], ""),
    ):
        minutes = -60.0 * _leads(some)
        seen = minutes[np.isfinite(minutes)]
        found.append((f"{name}: noticed", _share(seen.size, minutes.size), ""))
        found.append((f"{name}: within 45 min", _share((seen <= 45.0).sum(), minutes.size), aim))
        if seen.size:
            spread = f"{np.median(seen):.0f}, {seen.max():.0f}"
            found.append((f"{name}: median and worst [min]", spread, ""))
    zero = _leads(total.events.get("shop at 0 °C", []))
    if zero.size:
        found.append(
            ("heater lost: 3 h before 0 °C", _share((zero >= 3.0).sum(), zero.size), "all")
        )
        if np.isfinite(zero).any():
            spread = f"{np.nanmedian(zero):.1f}, {np.nanmin(zero):.1f}"
            found.append(("heater lost: median and worst lead before 0 °C [h]", spread, ""))
    return found + _alarms(total, "heat loss", "heat alarms with a lost heater", "")[:1]


def _lows(lows: Sequence[Low]) -> list[Row]:
    found = []
    for hour in EVENINGS_AT:
        for name, spaces in (("outdoors", _SKIES), ("cold sheds", _SHEDS), ("shop", ("shop",))):
            here = [low for low in lows if low.hour == hour and low.space in spaces]
            if len(here) < _ENOUGH_NIGHTS:  # rounds that fell on this hour by chance
                continue
            error = np.abs([low.expected_c - low.low_c for low in here]).mean()
            naive = np.abs([low.last_night_c - low.low_c for low in here]).mean()
            below = np.mean([low.low_c < low.edge_c for low in here])
            aim = "1.5 K, 30 % better" if name != "shop" else ""
            better = f"{error:.2f} K, {100.0 * (1.0 - error / naive):.0f} % better"
            found.append((f"low at {hour}:00, {name}: mean error, against last night", better, aim))
            found.append(
                (
                    f"low at {hour}:00, {name}: nights below the cold edge",
                    f"{100 * below:.0f} %",
                    "10 %",
                )
            )
    return found


def _messages(total: Score) -> list[Row]:
    found = []
    for role, weeks in sorted(total.person_weeks.items()):
        counts = [count for who, count in total.messages if who == role]
        topics = {topic: n for (who, topic), n in total.sent.items() if who == role}
        split = ", ".join(f"{topic} {n / weeks:.2f}" for topic, n in sorted(topics.items()))
        found.append((f"messages a week, {role} ({split})", f"{sum(counts) / weeks:.2f}", ""))
        nights = 7.0 * weeks
        over = sum(count > 2 for count in counts)
        worst = max(counts, default=0)
        found.append(
            (
                f"nights with more than two messages, {role}",
                f"{_share(over, nights)}, most {worst}",
                "none",
            )
        )
    return found
