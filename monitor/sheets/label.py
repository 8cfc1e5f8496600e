"""One label: DO NOT START above all, name and place large, the code to scan at its side."""

from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from monitor.phrases.label import LabelWords
from monitor.sheets.fitting import FittedText, fit_text
from monitor.sheets.paper import LABEL_HEIGHT, LABEL_WIDTH, MM, Place
from monitor.sheets.qr import draw_code
from monitor.sheets.typeface import Typeface

CODE_SIDE = 27.0 * MM
_EDGE = 2.5 * MM  # what printers and scissors may take
_BAR = 8.5 * MM
_GAP = 1.0 * MM
_WIDTH = LABEL_WIDTH - 2 * _EDGE
_BESIDE_CODE = _WIDTH - CODE_SIDE - _GAP
_NAME_HEIGHT = 10.5 * MM
_PLACE_HEIGHT = 6.0 * MM
_SIGN_OFF_HEIGHT = 5.5 * MM  # to write in by hand
_FOOT_HEIGHT = 3.0 * MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What one label shows."""

    words: LabelWords
    code: str  # what a scan says
    foot: str  # behind the time of which it is


def draw_label(canvas: Canvas, place: Place, label: Label, face: Typeface) -> bool:
    """Draw a label with its lower left corner at a place; tells whether anything was shortened.

    Raises
    ------
    BadValueError
        If its code would be too fine to be read.
    """
    words = label.words
    left, bottom = place.x + _EDGE, place.y + _EDGE
    top = place.y + LABEL_HEIGHT - _EDGE
    top = _draw_bar(canvas, left, top, words.warning, face)
    code_end = top - CODE_SIDE
    draw_code(canvas, label.code, left + _WIDTH - CODE_SIDE, code_end, CODE_SIDE)
    canvas.setFillGray(0)

    name = fit_text(words.name, _BESIDE_CODE, _NAME_HEIGHT, face, largest=25, bold=True)
    below = name.draw_lines(canvas, face, left, top)
    where = fit_text(words.place, _BESIDE_CODE, _PLACE_HEIGHT, face, largest=12, bold=True)
    below = where.draw_lines(canvas, face, left, below) - _GAP
    headline = fit_text(words.headline, _BESIDE_CODE, below - code_end, face, largest=13, bold=True)
    headline.draw_lines(canvas, face, left, below)

    foot_top = bottom + _FOOT_HEIGHT
    details = fit_text(
        "\n".join(words.details), _WIDTH, code_end - foot_top - _SIGN_OFF_HEIGHT, face, largest=10
    )
    details.draw_lines(canvas, face, left, code_end)
    _draw_sign_off(canvas, left, foot_top, face)
    foot = fit_text(f"{words.as_of}; {label.foot}", _WIDTH, _FOOT_HEIGHT, face, largest=7)
    foot.draw_lines(canvas, face, left, foot_top)
    return any(one.shortened for one in (name, where, headline, details))


def _draw_bar(canvas: Canvas, left: float, top: float, warning: str, face: Typeface) -> float:
    """The warning, white on black, the width of the label; tells where what follows begins."""
    bottom = top - _BAR
    if warning:
        canvas.setFillGray(0)
        canvas.rect(left, bottom, _WIDTH, _BAR, stroke=0, fill=1)
        canvas.setFillGray(1)
        shown: FittedText = fit_text(warning, _WIDTH - 2 * _GAP, _BAR, face, largest=18, bold=True)
        middle = (_WIDTH - face.text_width(shown.lines[0], shown.size, bold=True)) / 2
        shown.draw_lines(canvas, face, left + middle, top - (_BAR - shown.height) / 2)
    return bottom - _GAP


def _draw_sign_off(canvas: Canvas, left: float, bottom: float, face: Typeface) -> None:
    """Two lines to write on."""
    canvas.setLineWidth(0.5)
    canvas.setStrokeGray(0)
    base = bottom + 1.2 * MM
    for text, start, end in (("Signed off by", 0.0, 0.62), ("Date", 0.65, 1.0)):
        face.draw_text(canvas, left + start * _WIDTH, base, text, 8)
        written = left + start * _WIDTH + face.text_width(text, 8) + 1 * MM
        canvas.line(written, base - 1, left + end * _WIDTH, base - 1)
