"""Work sheets as a file: one craft a page, and at the end what would also do, and the cautions."""

from collections.abc import Iterator, Sequence
from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from monitor.phrases.work_sheet import SheetWords
from monitor.sheets.fitting import FittedText, fit_text
from monitor.sheets.paper import MM, Paper, Printout, open_canvas, paper_size
from monitor.sheets.typeface import Typeface
from monitor.sheets.work_sheet import EDGE, FOOT, WorkSheet
from monitor.wording import Wording
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT

_GAP = 1.5 * MM


def write_work_sheets(
    path: Path,
    sheets: Sequence[tuple[SheetWords, str]],
    paper: Paper,
    face: Typeface,
    title: str,
    words: Wording,
) -> Printout:
    """Write a PDF of work sheets.

    Parameters
    ----------
    path : Path
    sheets : sequence of (SheetWords, str)
        Each with what its code says; at least one.
    paper : Paper
        A sheet.
    face : Typeface
    title : str
        Of the file, as a viewer shows it.
    words : Wording
        Of the cautions.
    """
    canvas = open_canvas(path, paper, title)
    width, height = (side - 2 * EDGE for side in paper_size(paper))
    shortened = []
    count = 0
    for said, code in sheets:
        sheet = WorkSheet(words=said, code=code, width=width, height=height, face=face)
        pages = sheet.lay_out()
        for number, of_page in enumerate(pages, start=1):
            sheet.draw_page(canvas, of_page, number, len(pages))
            canvas.showPage()
        count += len(pages)
        if any(row.shortened for rows in pages for row in rows):
            shortened.append(said.place)
    told = [said for said, _ in sheets]
    count += _draw_alternatives(canvas, told, width, height, face, words)
    canvas.save()
    return Printout(pages=count, shortened=tuple(shortened), missing=tuple(sorted(face.missing)))


def _draw_alternatives(
    canvas: Canvas,
    told: Sequence[SheetWords],
    width: float,
    height: float,
    face: Typeface,
    words: Wording,
) -> int:
    """Draw what would also do, then the cautions whole; tells on how many pages."""
    pages = 1
    top = EDGE + height
    for text, size, bold in _paragraphs(told, words):
        part: FittedText = fit_text(text, width, height / 3, face, largest=size, bold=bold)
        if top - part.height < EDGE + FOOT:
            canvas.showPage()
            pages += 1
            top = EDGE + height
        top = part.draw_lines(canvas, face, EDGE, top) - _GAP
    canvas.showPage()
    return pages


def _paragraphs(told: Sequence[SheetWords], words: Wording) -> Iterator[tuple[str, float, bool]]:
    """Each with its size [pt], and whether it is bold."""
    if any(step.also for said in told for step in said.steps):
        yield "What would also do", 18, True
        yield (
            "In place of a step of the sheets, where it cannot be done as it says there.",
            12,
            False,
        )
    for said in told:
        steps = [(n, one.also) for n, one in enumerate(said.steps, start=1) if one.also]
        if steps:
            yield f"{said.name} · {said.place}", 12.5, True
        for number, also in steps:
            yield f"Step {number}: {also}.", 12, False
    yield "Take care", 18, True
    called_for = frozenset().union(*(said.cautions for said in told))
    for caution in Caution:
        if caution in called_for or caution is Caution.NOT_LIFE_SAFETY:
            yield words.in_reader_units(CAUTION_TEXT[caution]), 12, False
