"""The charts of a season record as SVG: the nights against what the craft held, and its air."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from datetime import date, timedelta
from math import ceil, floor, isfinite
from xml.sax.saxutils import escape

from monitor.reports.season.figures import BIN_K, AirStoodIn, NightVerdict, SeasonNight
from monitor.reports.season.record_words import record_words_of
from monitor.units import in_celsius, in_unit, temperature_text
from monitor.wording import Wording, typeset

_WIDTH, _HEIGHT = 500.0, 190.0  # [pt]
_LEFT, _RIGHT, _TOP, _BOTTOM = 44.0, 8.0, 8.0, 24.0
_INK, _GREY, _PALE = "#1d1b16", "#6b675d", "#d9d5ca"
_FACE = 'font-family="Libertinus Serif, DejaVu Sans" font-size="8.5"'
_HALF_WIDTH, _HALF_HEIGHT = 250.0, 140.0  # of a chart beside another
_LOWEST_C = -32.0  # what was held below it is told by a line at the foot
_MARK = 5.0  # a night's mark, with the room around it [pt]
_MONTH_WIDTH = 37.0  # of "May 2027" [pt]
_STEPS = (5.0, 10.0, 20.0)  # of the axis, in the reader's unit
_LINE_HEIGHT = 9.0  # [pt]
_XOf = Callable[[date], float]
_YOf = Callable[[float], float]


def nights_chart(nights: Sequence[SeasonNight], words: Wording) -> str:
    """Each night's lowest air and inside, and the line at which ice begins; SVG.

    Parameters
    ----------
    nights : sequence of SeasonNight
        At least one, in order.
    words : Wording
        Its temperatures are in the reader's unit.
    """
    first, last = nights[0].evening, nights[-1].evening
    days = max((last - first).days, 1)
    seen = [one for each in nights for one in (each.low_c, each.inside_low_c) if one is not None]
    held = [one.ice_point_c for one in nights if one.ice_point_c is not None]
    low_c = max(min([*seen, *held, 0.0]), _LOWEST_C) - 2.0
    high_c = max([*seen, 2.0]) + 2.0

    # The first night's mark stands clear of the axis's numbers.
    wide = _WIDTH - _LEFT - _RIGHT - 2.0 * _MARK

    def x_of(evening: date) -> float:
        return _LEFT + _MARK + (evening - first).days / days * wide

    def y_of(value_c: float) -> float:
        clipped = min(max(value_c, low_c), high_c)
        return _TOP + (high_c - clipped) / (high_c - low_c) * (_HEIGHT - _TOP - _BOTTOM)

    step = wide / days
    parts = [
        f'<rect x="{x_of(one.evening) - step / 2:.1f}" y="{_TOP}" width="{step:.2f}"'
        f' height="{_HEIGHT - _TOP - _BOTTOM}" fill="{_PALE}"/>'
        for one in nights
        if one.verdict is NightVerdict.NOT_KNOWN
    ]
    parts += _temperature_axis(low_c, high_c, y_of, words)
    parts += _month_axis(first, last, x_of, words)
    parts += _held_line(nights, x_of, y_of, step)
    for one in nights:
        x = x_of(one.evening)
        if one.inside_low_c is not None:
            y = y_of(one.inside_low_c)
            parts.append(_line(x - 1.8, y, x + 1.8, y, width=1.1, ink=_INK))
        if one.low_c is None:
            continue
        y = y_of(one.low_c)
        bad = one.verdict in {NightVerdict.ICE, NightVerdict.PASSED}
        ring = f' stroke="{_INK}" stroke-width="0.9"'
        if bad:  # a square, for shape tells it where colour does not
            parts.append(
                f'<rect x="{x - 2.4:.1f}" y="{y - 2.4:.1f}" width="4.8" height="4.8"'
                f' fill="{_INK}"/>'
            )
        elif one.verdict is NightVerdict.NEAR:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.3" fill="#fff"{ring}/>')
        else:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.3" fill="{_GREY}"/>')
    return _svg(parts)


def winter_chart(
    lows_c: Mapping[date, float], unread: Collection[date], due: Mapping[date, int], words: Wording
) -> str:
    """Each night's lowest outdoor air, and for how many craft work is due before it; SVG.

    Parameters
    ----------
    lows_c : mapping of float by evening
        At least one; [°C].
    unread : collection of date
        Evenings of nights of which hours are missing: shaded.
    due : mapping of int by evening
    words : Wording
    """
    first, last = min(lows_c), max(lows_c)
    days = max((last - first).days, 1)
    low_c, high_c = min([*lows_c.values(), 0.0]) - 2.0, max([*lows_c.values(), 2.0]) + 5.0

    def x_of(evening: date) -> float:
        return _LEFT + (evening - first).days / days * (_WIDTH - _LEFT - _RIGHT)

    def y_of(value_c: float) -> float:
        return _TOP + (high_c - value_c) / (high_c - low_c) * (_HEIGHT - _TOP - _BOTTOM)

    step = (_WIDTH - _LEFT - _RIGHT) / days
    parts = [
        f'<rect x="{x_of(one) - step / 2:.1f}" y="{_TOP}" width="{step:.2f}"'
        f' height="{_HEIGHT - _TOP - _BOTTOM}" fill="{_PALE}"/>'
        for one in sorted(unread)
    ]
    parts += _temperature_axis(low_c, high_c, y_of, words)
    parts += _month_axis(first, last, x_of, words)
    written_to = 0.0
    for evening, night_c in sorted(lows_c.items()):
        x, y = x_of(evening), y_of(night_c)
        if evening not in due:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="1.3" fill="{_GREY}"/>')
            continue
        parts.append(
            f'<rect x="{x - 2.4:.1f}" y="{y - 2.4:.1f}" width="4.8" height="4.8" fill="{_INK}"/>'
        )
        if x >= written_to:  # else it would stand on the one before
            first_night = evening == first  # beside it stands the axis
            anchor = "start" if first_night else "middle"
            parts.append(_text(x, y - 5.0, f"{due[evening]}", anchor, 7.0))
            written_to = x + (14.0 if first_night else 7.0)
    return _svg(parts)


def air_chart(air: AirStoodIn, words: Wording) -> str:
    """Hours of a space at each temperature, and those that were not heard; SVG."""
    say, edges = record_words_of(words), sorted(air.hours_by_bin)
    first, last = edges[0], edges[-1] + BIN_K
    columns = round((last - first) / BIN_K)
    unheard_h = max(air.stood_h - air.heard_h, 0.0)
    most_h = max(*air.hours_by_bin.values(), unheard_h, 1.0)
    margin = 12.0
    width = (_HALF_WIDTH - 2 * margin) / (columns + 2)
    foot = _HALF_HEIGHT - _BOTTOM

    def top_of(hours: float) -> float:
        return foot - hours / most_h * (foot - _TOP - 10.0)

    parts = [_line(margin, foot, _HALF_WIDTH - margin, foot, width=0.6, ink=_INK)]
    for edge in edges:
        hours = air.hours_by_bin[edge]
        x = margin + (edge - first) / BIN_K * width
        parts.append(
            f'<rect x="{x + 0.6:.1f}" y="{top_of(hours):.1f}" width="{width - 1.2:.1f}"'
            f' height="{max(foot - top_of(hours), 0.6):.1f}"'
            f' fill="{_INK if edge < 0.0 else _GREY}"/>'
        )
    fullest = max(edges, key=lambda one: air.hours_by_bin[one])
    x, hours = margin + (fullest - first) / BIN_K * width, air.hours_by_bin[fullest]
    parts.append(
        _text(
            x + width / 2, top_of(hours) - 2.5, say.write_number(f"{hours:,.0f} h"), "middle", 7.0
        )
    )
    every = max(ceil(columns / 5), 1)
    for n in range(0, columns + 1, every):
        at_c = first + n * BIN_K
        parts.append(_text(margin + n * width, foot + 11.0, words.temperature(at_c, 0), "middle"))
    if unheard_h:
        x = margin + (columns + 1) * width
        parts += _hatched(x + 0.6, top_of(unheard_h), width - 1.2, foot - top_of(unheard_h))
        parts.append(
            _text(
                x + width / 2,
                top_of(unheard_h) - 2.5,
                say.write_number(f"{unheard_h:,.0f} h"),
                "middle",
                7.0,
            )
        )
        parts.append(_text(_HALF_WIDTH - 2.0, foot + 20.0, say.not_heard, "end"))
    return _svg(parts, _HALF_WIDTH, _HALF_HEIGHT)


def _held_line(nights: Sequence[SeasonNight], x_of: _XOf, y_of: _YOf, step: float) -> Iterator[str]:
    """Where ice begins in the circuit with the least to spare, a step a night."""
    points: list[str] = []
    for one in nights:
        if one.ice_point_c is None or not isfinite(one.ice_point_c):
            if points:
                yield _path(points)
            points = []
            continue
        x, y = x_of(one.evening), y_of(one.ice_point_c)
        points += [f"{x - step / 2:.1f} {y:.1f}", f"{x + step / 2:.1f} {y:.1f}"]
    if points:
        yield _path(points)


def _temperature_axis(low_c: float, high_c: float, y_of: _YOf, words: Wording) -> Iterator[str]:
    unit = words.temperature_unit
    low, high = in_unit(low_c, unit), in_unit(high_c, unit)
    step = next((one for one in _STEPS if (high - low) / one <= 8), _STEPS[-1])
    marks_c = [in_celsius(n * step, unit) for n in range(ceil(low / step), floor(high / step) + 1)]
    for at_c in marks_c:
        y = y_of(at_c)
        yield _line(_LEFT, y, _WIDTH - _RIGHT, y, width=0.4, ink=_PALE)
        # A mark beside the freezing point makes room for that: 30 °F for 32 °F.
        if at_c == 0.0 or abs(y - y_of(0.0)) > _LINE_HEIGHT:
            yield _text(_LEFT - 4.0, y + 3.0, typeset(temperature_text(at_c, unit, 0)), "end")
    y = y_of(0.0)
    yield _line(_LEFT, y, _WIDTH - _RIGHT, y, width=0.8, ink=_GREY)
    if 0.0 not in marks_c:
        yield _text(_LEFT - 4.0, y + 3.0, typeset(temperature_text(0.0, unit, 0)), "end")


def _month_axis(first: date, last: date, x_of: _XOf, words: Wording) -> Iterator[str]:
    """A mark at each first of a month; of a short stretch its first and last day."""
    firsts = []
    day = first.replace(day=1)
    while day <= last:
        if day >= first:
            firsts.append(day)
        day = (day + timedelta(days=32)).replace(day=1)
    say, foot, written_to = record_words_of(words), _HEIGHT - _BOTTOM, 0.0
    for one in firsts if len(firsts) > 1 else sorted({first, last}):
        x = x_of(one)
        yield _line(x, foot, x, foot + 4.0, width=0.5, ink=_INK)
        name = say.write_tick(one, is_month=one.day == 1 and len(firsts) > 1)
        is_last = x > _WIDTH - _MONTH_WIDTH
        begins = x - _MONTH_WIDTH if is_last else x
        if begins >= written_to:  # else it would stand on the one before
            yield _text(x, foot + 14.0, name, "end" if is_last else "start")
            written_to = begins + _MONTH_WIDTH


def _hatched(x: float, y: float, width: float, height: float) -> Iterator[str]:
    yield (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{_PALE}"'
        f' stroke="{_GREY}" stroke-width="0.6"/>'
    )
    for n in range(1, int(height // 5) + 1):
        yield _line(x, y + n * 5.0, x + width, y + n * 5.0 - 4.0, width=0.5, ink=_GREY)


def _path(points: Sequence[str]) -> str:
    return f'<path d="M{" L".join(points)}" fill="none" stroke="{_INK}" stroke-width="2"/>'


def _line(x1: float, y1: float, x2: float, y2: float, *, width: float, ink: str) -> str:
    return (
        f'<path d="M{x1:.1f} {y1:.1f} L{x2:.1f} {y2:.1f}" stroke="{ink}"'
        f' stroke-width="{width}" fill="none"/>'
    )


def _text(x: float, y: float, said: str, anchor: str, size: float = 8.5) -> str:
    face = _FACE.replace('"8.5"', f'"{size}"')
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {face} fill="{_INK}">'
        f"{escape(said)}</text>"
    )


def _svg(parts: Sequence[str], width: float = _WIDTH, height: float = _HEIGHT) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}"'
        f' viewBox="0 0 {width} {height}">{"".join(parts)}</svg>'
    )
