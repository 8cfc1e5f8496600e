"""Labels as a file: one a page for a label printer, or many on a sheet with marks to cut by."""

from collections.abc import Sequence
from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from monitor.sheets.label import Label, draw_label
from monitor.sheets.paper import (
    LABEL_HEIGHT,
    LABEL_WIDTH,
    MM,
    Paper,
    Place,
    Printout,
    label_places,
    open_canvas,
)
from monitor.sheets.typeface import Typeface

_MARK = 3.0 * MM  # half the length of a cut mark


def write_labels(
    path: Path, labels: Sequence[Label], paper: Paper, face: Typeface, title: str
) -> Printout:
    """Write a PDF of labels.

    Parameters
    ----------
    path : Path
    labels : sequence of Label
        At least one, in the order of printing.
    paper : Paper
    face : Typeface
    title : str
        Of the file, as a viewer shows it.
    """
    canvas = open_canvas(path, paper, title)
    places = label_places(paper)
    shortened = []
    for number, label in enumerate(labels):
        at = number % len(places)
        if number and at == 0:
            canvas.showPage()
        if at == 0 and paper is not Paper.LABEL:
            _draw_cut_marks(canvas, places)
        if draw_label(canvas, places[at], label, face):
            shortened.append(label.words.place)
    canvas.showPage()
    canvas.save()
    return Printout(
        pages=-(-len(labels) // len(places)),
        shortened=tuple(shortened),
        missing=tuple(sorted(face.missing)),
    )


def _draw_cut_marks(canvas: Canvas, places: Sequence[Place]) -> None:
    """A small cross at every corner of a label."""
    canvas.setLineWidth(0.25)
    canvas.setStrokeGray(0.3)
    corners = {
        (round(place.x + across, 3), round(place.y + up, 3))
        for place in places
        for across in (0, LABEL_WIDTH)
        for up in (0, LABEL_HEIGHT)
    }
    for x, y in sorted(corners):
        canvas.line(x - _MARK, y, x + _MARK, y)
        canvas.line(x, y - _MARK, x, y + _MARK)
