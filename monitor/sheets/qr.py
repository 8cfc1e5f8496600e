"""A QR code (ISO/IEC 18004) on a page: what a scan of a craft's label opens."""

from urllib.parse import quote

import segno
from reportlab.pdfgen.canvas import Canvas
from segno.encoder import DataOverflowError

from monitor.errors import BadValueError
from monitor.sheets.paper import MM

_QUIET = 4  # modules of white around it that the standard asks for
# Of label printers 203 dots an inch are common, so a module then has three dots; cameras of
# telephones read that at arm's length (common practice, no source).
_SMALLEST_MODULE = 0.375 * MM


def code_content(address: str | None, craft: str) -> str:
    """What the code of a craft says: the address of its page, or its id where there is none."""
    return craft if not address else f"{address.rstrip('/')}/craft/{quote(craft, safe='')}"


def draw_code(canvas: Canvas, content: str, x: float, y: float, side: float) -> None:
    """Draw the code in a white square, its quiet zone with it.

    Parameters
    ----------
    canvas : Canvas
    content : str
    x, y : float
        Lower left corner of the square [pt].
    side : float
        Of the square [pt].

    Raises
    ------
    BadValueError
        If it would be too fine for a camera to read.
    """
    try:
        rows = segno.make(content, micro=False, error="m").matrix
    except DataOverflowError:
        rows = ()
    module = side / (len(rows) + 2 * _QUIET)
    if not rows or module < _SMALLEST_MODULE:
        raise BadValueError(
            f"{content[:60]}… is too long for a code that a camera reads off a label",
            "give [web] a shorter address",
        )
    dark = canvas.beginPath()
    for line, row in enumerate(rows):
        bottom = y + side - (_QUIET + line + 1) * module
        for start, length in _dark_runs(row):
            dark.rect(x + (_QUIET + start) * module, bottom, length * module, module)
    canvas.setFillGray(0)
    canvas.drawPath(dark, stroke=0, fill=1)


def _dark_runs(row: bytes | bytearray) -> list[tuple[int, int]]:
    """Start and length of each run of dark modules."""
    runs: list[tuple[int, int]] = []
    for place, is_dark in enumerate(row):
        if not is_dark:
            continue
        if runs and sum(runs[-1]) == place:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        else:
            runs.append((place, 1))
    return runs
