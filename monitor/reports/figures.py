"""The plots of mails and reports. Runs as a child process, so that the daemon stays small.

Takes figures that `drawing` describes as JSON, a line each, on standard input: a week's air, or
what was said against what happened; both for light ground or for dark. For each it writes a line
``png LENGTH`` and a PNG of so many bytes to standard output, or ``fault LENGTH`` and the reason.
"""

import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from io import BytesIO
from typing import Any, BinaryIO
from zoneinfo import ZoneInfo

import matplotlib as mpl
from matplotlib import dates as mdates
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image  # comes with matplotlib


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """The colours of a plot, from its ground to what stands out most."""

    paper: str
    ink: str
    quiet: str  # words beside the lines
    water: str  # the dew point
    frost: str  # below freezing
    hair: str  # lines that only guide the eye


LIGHT = Palette(paper="#fbfaf6", ink="#17242c", quiet="#4d5a61", water="#0a5273",
                frost="#dce8ee", hair="#c8c5b9")  # fmt: skip
# Its ground is that of a letter in the dark.
DARK = Palette(paper="#12181a", ink="#e8edee", quiet="#a9b6ba", water="#7cc3e6",
               frost="#1e3642", hair="#3a474b")  # fmt: skip
_WIDTH_IN, _PANEL_IN, _EDGES_IN, _SQUARE_IN = 5.4, 1.15, 0.5, 2.7
_LEFT_IN, _RIGHT_IN, _TOP_IN, _BOTTOM_IN = 0.66, 0.1, 0.28, 0.28
_BETWEEN = 0.34  # of a panel's height: its name
_DPI = 180
_BLENDS = (
    ("paper", "ink", 12), ("paper", "water", 8), ("paper", "quiet", 8), ("paper", "hair", 4),
    ("paper", "frost", 2), ("frost", "ink", 10), ("frost", "water", 8), ("frost", "quiet", 8),
    ("frost", "hair", 4),
)  # fmt: skip


def draw_week(figure: Mapping[str, Any]) -> Image.Image:
    """Draw one panel for each space, all on one scale of time and temperature."""
    spaces, zone = figure["spaces"], ZoneInfo(figure["zone"])
    colours = LIGHT
    slope, offset = (1.8, 32.0) if figure["unit"] == "F" else (1.0, 0.0)
    height_in = _EDGES_IN + _PANEL_IN * max(len(spaces), 1)
    # Names of spaces are people's own: a dollar sign in one is no formula.
    with mpl.rc_context({"font.size": 10, "text.parse_math": False, "text.color": colours.ink}):
        drawn = Figure(figsize=(_WIDTH_IN, height_in), facecolor=colours.paper)
        panels = drawn.subplots(
            max(len(spaces), 1),
            1,
            sharex=True,
            sharey=True,
            squeeze=False,
            # Margins by hand: to find them takes as long as all the drawing.
            gridspec_kw={
                "left": _LEFT_IN / _WIDTH_IN,
                "right": 1.0 - _RIGHT_IN / _WIDTH_IN,
                "top": 1.0 - _TOP_IN / height_in,
                "bottom": _BOTTOM_IN / height_in,
                "hspace": _BETWEEN,
            },
        )
        since, until = (datetime.fromtimestamp(figure[end], zone) for end in ("since", "until"))
        for axes, space in zip(panels[:, 0], spaces, strict=False):
            at = [datetime.fromtimestamp(t, UTC) for t in space["at"]]
            axes.plot(
                at, _scaled(space["dew_point_c"], slope, offset), color=colours.water, lw=1, ls="--"
            )
            axes.plot(at, _scaled(space["coldest_c"], slope, offset), color=colours.ink, lw=1.4)
            axes.set_title(space["name"], loc="left", fontsize=11, fontweight="bold", pad=3)
        for axes in panels[:, 0]:
            _frame(axes, offset, figure, zone, since, until)
        return _pixels(drawn)


def draw_skill(figure: Mapping[str, Any]) -> Image.Image:
    """Draw said against happened by tenths, with what true chances give 9 times in 10."""
    tenths, colours = figure["tenths"], LIGHT
    with mpl.rc_context({"font.size": 10, "text.color": colours.ink}):
        drawn = Figure(
            figsize=(_SQUARE_IN, _SQUARE_IN), layout="constrained", facecolor=colours.paper
        )
        axes = drawn.subplots()
        axes.plot([0, 1], [0, 1], color=colours.hair, lw=1, zorder=1)
        for each in tenths:
            axes.plot(
                [each["said"]] * 2,
                [each["fewest"], each["most"]],
                color=colours.frost,
                lw=7,
                zorder=0,
            )
            axes.annotate(
                f"{each['nights']}", (each["from"] + 0.05, 1.06), ha="center",
                annotation_clip=False, color=colours.quiet, fontsize=7,
            )  # fmt: skip
        axes.plot(
            [each["said"] for each in tenths], [each["happened"] for each in tenths],
            color=colours.ink, marker="o", ms=4, lw=1.2,
        )  # fmt: skip
        for axis, name in ((axes.xaxis, "said"), (axes.yaxis, "came")):
            axis.set_major_formatter(lambda value, _: f"{100 * value:.0f} %")
            axis.set_label_text(name, color=colours.quiet)
        axes.set(xlim=(-0.03, 1.03), ylim=(-0.03, 1.03))
        _strip_axes(axes, colours)
        return _pixels(drawn)


def _pixels(drawn: Figure) -> Image.Image:
    """A drawing in light inks, of so few colours that a mail with it is kind to a weak link."""
    drawn.set_dpi(_DPI)
    canvas: Any = FigureCanvasAgg(drawn)  # has no types
    canvas.draw()
    seen = Image.frombytes("RGBA", canvas.get_width_height(), bytes(canvas.buffer_rgba()))
    blends = Image.new("P", (1, 1))
    blends.putpalette(_blends_of(LIGHT))
    return seen.convert("RGB").quantize(palette=blends, dither=Image.Dither.NONE)


def _blends_of(inks: Palette) -> list[int]:
    """Every ink on every ground in steps, as RGB: the edges of lines and letters are such blends.

    Blends of one place are alike in all palettes, so a drawing in light inks becomes one in dark
    ones by another palette.
    """
    found: list[int] = []
    for ground, ink, steps in _BLENDS:
        first, last = (bytes.fromhex(getattr(inks, each)[1:]) for each in (ground, ink))
        for n in range(steps):
            share = n / (steps - 1)
            found += [round(a + share * (b - a)) for a, b in zip(first, last, strict=True)]
    return found


def _png(pixels: Image.Image, inks: Palette) -> bytes:
    shown = pixels.copy()
    shown.putpalette(_blends_of(inks))
    buffer = BytesIO()
    shown.save(buffer, format="png")
    return buffer.getvalue()


def _scaled(values: list[float | None], slope: float, offset: float) -> list[float]:
    return [float("nan") if v is None else v * slope + offset for v in values]


def _frame(
    axes: Axes,
    freezing: float,
    figure: Mapping[str, Any],
    zone: ZoneInfo,
    since: datetime,
    until: datetime,
) -> None:
    unit, days, colours = figure["unit"], figure["days"], LIGHT
    low, high = axes.get_ylim()
    axes.set_ylim(min(low, freezing - 2), max(high, freezing + 2))
    axes.axhspan(-500, freezing, color=colours.frost, lw=0, zorder=0)
    axes.axhline(freezing, color=colours.quiet, lw=0.8, zorder=1)
    axes.set_xlim(mdates.date2num(since), mdates.date2num(until))  # type: ignore[no-untyped-call]
    if until - since > timedelta(days=1):
        axes.xaxis.set_major_locator(mdates.DayLocator(tz=zone))  # type: ignore[no-untyped-call]
        axes.xaxis.set_major_formatter(lambda at, _: _day_name(at, zone, days))
    else:
        axes.xaxis.set_major_formatter(mdates.DateFormatter("%H:%M", tz=zone))  # type: ignore[no-untyped-call]
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:.0f} °{unit}".replace("-", "−"))
    axes.grid(axis="x", color=colours.hair, lw=0.6)
    _strip_axes(axes, colours)


def _day_name(number: float, zone: ZoneInfo, days: Mapping[str, str]) -> str:
    """The name of the day that a tick stands at; ticks are days since 1970."""
    day = mdates.num2date(number, tz=zone).date()  # type: ignore[no-untyped-call]
    return days.get(day.isoformat(), "")


def _strip_axes(axes: Axes, colours: Palette) -> None:
    """Leave the labels on plain paper, without ticks and without a box."""
    axes.tick_params(colors=colours.quiet, length=0)
    axes.set_facecolor(colours.paper)
    for side in axes.spines.values():
        side.set_visible(False)


def answer_figures(asked: BinaryIO, out: BinaryIO) -> None:
    """Draw every figure that is asked for, until there are no more.

    One for a dark screen that is asked for right after the same for a light one takes no drawing.
    """
    last: tuple[dict[str, Any], Image.Image] | None = None
    for line in asked:
        try:
            figure = json.loads(line)
            inks = DARK if figure.pop("dark", False) else LIGHT
            if last is None or last[0] != figure:
                pixels = draw_skill(figure) if "tenths" in figure else draw_week(figure)
                last = figure, pixels
            kind, content = "png", _png(last[1], inks)
        except Exception as error:  # noqa: BLE001 - one figure's fault costs no other
            kind, content = "fault", f"{type(error).__name__}: {error}".encode()
        out.write(f"{kind} {len(content)}\n".encode())
        out.write(content)
        out.flush()


if __name__ == "__main__":
    answer_figures(sys.stdin.buffer, sys.stdout.buffer)
