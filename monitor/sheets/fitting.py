"""Text that fits its place: wrapped, set smaller down to what can be read, then cut and marked."""

from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from monitor.sheets.typeface import Typeface

SMALLEST_PT = 7.0  # below it nobody reads print by a helm (common practice, no source)
SHORTENED = "… (shortened)"
_LEADING = 1.18  # of a line, in sizes of its letters
_STEP_PT = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedText:
    """Lines in the size in which they fit."""

    lines: tuple[str, ...]
    size: float  # [pt]
    bold: bool
    shortened: bool  # something was left out, and the last line says so

    @property
    def height(self) -> float:
        """Of all lines together [pt]."""
        return len(self.lines) * self.size * _LEADING

    def draw_lines(self, canvas: Canvas, face: Typeface, x: float, top: float) -> float:
        """Draw it down from ``top``; tells where it ends [pt]."""
        for number, line in enumerate(self.lines, start=1):
            base = top - number * self.size * _LEADING + 0.22 * self.size
            face.draw_text(canvas, x, base, line, self.size, bold=self.bold)
        return top - self.height


def wrap_text(
    text: str, width: float, size: float, face: Typeface, *, bold: bool = False
) -> tuple[str, ...]:
    """Lines of a text no wider than ``width`` [pt]; a word that is wider alone is broken.

    A line break in the text begins a new line.
    """
    paragraphs = text.split("\n")
    return tuple(
        line for one in paragraphs for line in _wrap_paragraph(one, width, size, face, bold=bold)
    )


def _wrap_paragraph(
    text: str, width: float, size: float, face: Typeface, *, bold: bool
) -> list[str]:
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if face.text_width(longer, size, bold=bold) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while len(line) > 1 and face.text_width(line, size, bold=bold) > width:
            kept = _longest_start(line, width, size, face, bold=bold)
            lines.append(line[:kept])
            line = line[kept:]
    return [*lines, line] if line else lines


def _longest_start(word: str, width: float, size: float, face: Typeface, *, bold: bool) -> int:
    """How many signs of a word fit; at least one."""
    kept = 1
    while kept < len(word) and face.text_width(word[: kept + 1], size, bold=bold) <= width:
        kept += 1
    return kept


def fit_text(
    text: str,
    width: float,
    height: float,
    face: Typeface,
    *,
    largest: float,
    smallest: float = SMALLEST_PT,
    bold: bool = False,
) -> FittedText:
    """The text in the largest size that fits.

    Parameters
    ----------
    text : str
        A line break begins a new line.
    width, height : float
        Of its place [pt].
    face : Typeface
        What it cannot show is written as codes.
    largest, smallest : float
        Bounds of its size [pt].
    bold : bool
        Set in bold.

    Returns
    -------
    FittedText
        Where even the smallest size does not fit, as much as does, with `SHORTENED` behind it.
    """
    shown = "\n".join(face.printable_text(one) for one in text.split("\n"))
    # Words stay whole down to half the size; from there on it is better to break one.
    for least, parts_words in ((max(smallest, largest / 2), False), (smallest, True)):
        size = largest
        while size >= least:
            lines = wrap_text(shown, width, size, face, bold=bold)
            whole = parts_words or all(
                face.text_width(word, size, bold=bold) <= width for word in shown.split()
            )
            if whole and len(lines) * size * _LEADING <= height:
                return FittedText(lines=lines, size=size, bold=bold, shortened=False)
            size -= _STEP_PT
    size = smallest
    lines = wrap_text(shown, width, size, face, bold=bold)
    room = max(1, int(height / (size * _LEADING)))
    last = lines[room - 1]
    while last and face.text_width(f"{last}{SHORTENED}", size, bold=bold) > width:
        last = last[:-1]
    cut = (*lines[: room - 1], f"{last.rstrip()}{SHORTENED}")
    return FittedText(lines=cut, size=size, bold=bold, shortened=True)
