"""The papers that a yard prints on, a file of their pages, and how labels lie on a sheet."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from monitor.units import VolumeUnit

MM = 72.0 / 25.4  # points in a millimetre

LABEL_WIDTH = 100.0 * MM  # a label lies on its long side
LABEL_HEIGHT = 62.0 * MM


class Paper(StrEnum):
    """What is in the printer."""

    LABEL = "62x100"  # a roll or stack of labels, one a page
    A4 = "a4"
    LETTER = "letter"


SHEETS = (Paper.A4, Paper.LETTER)
_SIZES = {
    Paper.LABEL: (LABEL_WIDTH, LABEL_HEIGHT),
    Paper.A4: (210.0 * MM, 297.0 * MM),  # ISO 216
    Paper.LETTER: (8.5 * 72.0, 11.0 * 72.0),  # ANSI/ASME Y14.1, size A
}


@dataclass(frozen=True, slots=True)
class Place:
    """Where a label stands: the lower left corner [pt]."""

    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Printout:
    """What became of a file."""

    pages: int
    shortened: tuple[str, ...]  # headings of what did not fit whole
    missing: tuple[str, ...]  # signs that no font has


def paper_size(paper: Paper) -> tuple[float, float]:
    """Width and height [pt]."""
    return _SIZES[paper]


def usual_sheet(volume_unit: VolumeUnit) -> Paper:
    """The sheet that a yard most likely has: Letter where it pours in fluid ounces."""
    return Paper.LETTER if volume_unit == "fl oz" else Paper.A4


def label_places(paper: Paper) -> tuple[Place, ...]:
    """Places of the labels on one page, in reading order."""
    return tuple(_places_on(paper))


def _places_on(paper: Paper) -> Iterator[Place]:
    width, height = paper_size(paper)
    columns, rows = int(width // LABEL_WIDTH), int(height // LABEL_HEIGHT)
    left = (width - columns * LABEL_WIDTH) / 2
    top = (height + rows * LABEL_HEIGHT) / 2
    for row in range(rows):
        for column in range(columns):
            yield Place(left + column * LABEL_WIDTH, top - (row + 1) * LABEL_HEIGHT)


def open_canvas(path: Path, paper: Paper, title: str) -> Canvas:
    """An empty file of one paper's pages; a viewer shows its title."""
    canvas = Canvas(str(path), pagesize=paper_size(paper), pageCompression=1, lang="en")
    canvas.setTitle(title)
    canvas.setCreator("laidup")
    return canvas
