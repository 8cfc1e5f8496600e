"""The letters of a printed page: a face that is always at hand, and what it cannot show."""

import importlib.util
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import groupby
from pathlib import Path
from zlib import crc32

from arabic_reshaper import ArabicReshaper
from bidi import get_display
from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFError, TTFont
from reportlab.pdfgen.canvas import Canvas

from monitor.errors import BadValueError

# The drawing library of the reports brings this face along: Latin, Greek, Cyrillic, Armenian,
# Georgian, Hebrew and Arabic, free to embed.
_BROUGHT_ALONG = ("mpl-data/fonts/ttf/DejaVuSans.ttf", "mpl-data/fonts/ttf/DejaVuSans-Bold.ttf")
_NOT_DRAWN = {0x2068: None, 0x2069: None}  # isolates around a name: they order, and have no form
_RIGHT_TO_LEFT = {"R", "AL", "AN"}  # classes of the Unicode bidirectional algorithm (UAX 9)
# They choose between two looks of the sign before them, and have none of their own.
_VARIATION_SELECTORS = {chr(code) for code in range(0xFE00, 0xFE10)}


@dataclass(frozen=True, slots=True)
class Typeface:
    """Fonts in the order in which a sign is looked for, and what was found in none of them.

    The first of each tuple is the face of the page; the others help out with what it lacks.
    """

    regular: tuple[TTFont, ...]
    bold: tuple[TTFont, ...]
    missing: set[str] = field(default_factory=set)  # signs that were to be printed, and no font has
    # Widths of signs at 1 pt, in the regular and the bold fonts: no font here kerns.
    advances: tuple[dict[str, float], dict[str, float]] = field(default_factory=lambda: ({}, {}))

    def printable_text(self, text: str) -> str:
        """The text with signs that no font has written as their codes: ``‹U+6C34 U+624B›``.

        A name must never lose a part unseen, nor become a row of empty boxes.
        """
        kept = [sign for sign in text if sign not in _VARIATION_SELECTORS]
        parts: list[str] = []
        for is_known, signs in groupby(kept, self._has):
            if is_known:
                parts.extend(signs)
            else:
                lacked = list(signs)
                self.missing.update(lacked)
                parts.append(f"‹{' '.join(f'U+{ord(sign):04X}' for sign in lacked)}›")
        return "".join(parts)

    def _has(self, sign: str) -> bool:
        return ord(sign) in _NOT_DRAWN or any(
            ord(sign) in font.face.charToGlyph for font in self.regular
        )

    def text_width(self, text: str, size: float, *, bold: bool = False) -> float:
        """Width of one line [pt]."""
        known = self.advances[bold]
        shown = visual_order(text)
        for sign in shown:
            if sign not in known:
                known[sign] = self._font_of(sign, bold=bold).stringWidth(sign, 1.0)
        return size * sum(map(known.__getitem__, shown))

    def draw_text(
        self, canvas: Canvas, x: float, y: float, text: str, size: float, *, bold: bool = False
    ) -> None:
        """Draw one line, its beginning at ``x`` and its base line at ``y`` [pt]."""
        for font, part in self._runs(visual_order(text), bold=bold):
            canvas.setFont(font.fontName, size)
            canvas.drawString(x, y, part)
            x += font.stringWidth(part, size)

    def _runs(self, text: str, *, bold: bool) -> Iterator[tuple[TTFont, str]]:
        for font, signs in groupby(text, lambda sign: self._font_of(sign, bold=bold)):
            yield font, "".join(signs)

    def _font_of(self, sign: str, *, bold: bool) -> TTFont:
        fonts = self.bold if bold else self.regular
        return next((one for one in fonts if ord(sign) in one.face.charToGlyph), fonts[0])


def visual_order(line: str) -> str:
    """One line as it is drawn from left to right, Arabic letters joined."""
    if line.isascii() or not any(unicodedata.bidirectional(one) in _RIGHT_TO_LEFT for one in line):
        return line
    shown: str = get_display(_joined_letters().reshape(line))
    return shown.translate(_NOT_DRAWN)


@cache
def _joined_letters() -> ArabicReshaper:
    # The one ligature of a whole word that the face lacks is written in its letters.
    return ArabicReshaper({"delete_harakat": False, "ARABIC LIGATURE ALLAH": False})


def load_typeface(further: Sequence[Path] = ()) -> Typeface:
    """The face that comes along, helped out by a yard's own font files.

    Parameters
    ----------
    further : sequence of Path, optional
        TrueType files, asked in this order for what the face lacks.

    Raises
    ------
    BadValueError
        If a file is none, or no font that can be put into a PDF.
    """
    regular, bold = (_load_font(_folder_brought_along() / name) for name in _BROUGHT_ALONG)
    helping = tuple(_load_font(path) for path in further)
    return Typeface(regular=(regular, *helping), bold=(bold, regular, *helping))


def _folder_brought_along() -> Path:
    found = importlib.util.find_spec("matplotlib")  # found, not imported: that takes a second
    if found is None or not found.submodule_search_locations:
        raise BadValueError("the font that comes with matplotlib is gone", "install laidup again")
    return Path(found.submodule_search_locations[0])


@cache
def _load_font(path: Path) -> TTFont:
    try:
        # Two folders may each have a file of one name.
        font = TTFont(f"{path.stem}-{crc32(bytes(path)):08x}", str(path))
    except (TTFError, OSError) as error:
        raise BadValueError(
            f"font {path}: {error}", "name a TrueType file (.ttf, .ttc) that has the letters"
        ) from error
    registerFont(font)
    return font
