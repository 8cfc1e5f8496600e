"""The work sheet of one craft: its steps in the plan's order, with boxes to write into."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from monitor.phrases.work_sheet import SheetStep, SheetWords
from monitor.sheets.fitting import FittedText, fit_text
from monitor.sheets.paper import MM
from monitor.sheets.qr import draw_code
from monitor.sheets.typeface import Typeface
from monitor.yard.caution import NOT_LIFE_SAFETY_NOTE

EDGE = 12.0 * MM
FOOT = 6.0 * MM
_CODE_SIDE = 26.0 * MM
_BAR = 9.0 * MM
_HEAD = _BAR + _CODE_SIDE + 4.0 * MM
_LATER_HEAD = _BAR + 12.0 * MM
_COLUMN_HEAD = 6.0 * MM
_NUMBER = 8.0 * MM
_BOX = 19.0 * MM  # wide enough for a number that a wet hand writes
_BOXES = ("Quantity", "Reading", "Colour", "Initials")
_PAD = 1.8 * MM
_LEAST_ROW = 14.0 * MM
_NOTES_HEIGHT = 24.0 * MM  # to write down what is found
_SIZES = (13.0, 12.0, 11.0, 10.0)  # of a step [pt]: at arm's length the larger reads better
_SIZE_OF_SEVERAL = 12.0  # where it takes more pages than one in any case
_TICK = "\N{BALLOT BOX}"
_UNBROKEN = "\N{NO-BREAK SPACE}"
_ANSWER = "_" * 24  # a line to write on
_BETWEEN_TICKS = f"{_UNBROKEN * 2} "


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    """One step, its text set, its height known."""

    number: int
    step: SheetStep
    parts: tuple[FittedText, ...]

    @property
    def height(self) -> float:
        """Of the row [pt]."""
        text = sum(one.height for one in self.parts) + 2 * _PAD
        return max(_LEAST_ROW, text)

    @property
    def shortened(self) -> bool:
        """Whether something of it was left out."""
        return any(one.shortened for one in self.parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkSheet:
    """The paper of one craft's work: size without its edges [pt], letters, what a scan says."""

    words: SheetWords
    code: str
    width: float
    height: float
    face: Typeface

    @property
    def boxes(self) -> tuple[str, ...]:
        """Heads of the columns; without that of quantities where nothing is measured out."""
        return _BOXES if any(one.quantity_unit for one in self.words.steps) else _BOXES[1:]

    def lay_out(self) -> list[list[StepRow]]:
        """The rows of each page, in the largest letters that keep them on one page."""
        for size in _SIZES:
            pages = self._split_rows(self._set_rows(size))
            if len(pages) == 1:
                return pages
        return self._split_rows(self._set_rows(_SIZE_OF_SEVERAL))

    def _set_rows(self, size: float) -> list[StepRow]:
        width = self.width - _NUMBER - len(self.boxes) * _BOX - 2 * _PAD
        return [
            StepRow(number=number, step=step, parts=tuple(self._parts(step, width, size)))
            for number, step in enumerate(self.words.steps, start=1)
        ]

    def _parts(self, step: SheetStep, width: float, size: float) -> Iterator[FittedText]:
        ticks = _BETWEEN_TICKS.join(f"{_TICK} {one}".replace(" ", _UNBROKEN) for one in step.ticks)
        answer = f"{step.question} {_ANSWER}" if step.question else ""
        for text, letters, bold, share in (
            (step.title, size, True, 0.1),
            (step.sentence, size, False, 0.45),
            (answer, size - 1, False, 0.1),
            (" ".join(step.cautions), size - 1, True, 0.15),
            (ticks, size - 1, False, 0.15),
        ):
            if text:
                height = share * self.height
                yield fit_text(text, width, height, self.face, largest=letters, bold=bold)

    def _split_rows(self, rows: Sequence[StepRow]) -> list[list[StepRow]]:
        pages: list[list[StepRow]] = [[]]
        room = self.height - _HEAD - _COLUMN_HEAD - self._complaint_height() - FOOT
        for row in rows:
            if pages[-1] and row.height > room:
                pages.append([])
                room = self.height - _LATER_HEAD - _COLUMN_HEAD - FOOT
            pages[-1].append(row)
            room -= row.height
        return pages

    def _complaint(self) -> FittedText:
        return fit_text(self.words.complaint, self.width, 40 * MM, self.face, largest=10, bold=True)

    def _complaint_height(self) -> float:
        return self._complaint().height + 2 * MM if self.words.complaint else 0.0

    def draw_page(self, canvas: Canvas, rows: Sequence[StepRow], page: int, pages: int) -> None:
        """Draw one page of it; numbers count from 1."""
        top = EDGE + self.height
        top = self._draw_head(canvas, top) if page == 1 else self._draw_later_head(canvas, top)
        top = self._draw_column_head(canvas, top)
        for row in rows:
            self._draw_row(canvas, row, top)
            top -= row.height
        if page == pages and top - _NOTES_HEIGHT > EDGE + FOOT:
            self._draw_notes(canvas, top)
        of = f"{self.words.craft}, page {page} of {pages}. {NOT_LIFE_SAFETY_NOTE}"
        self.face.draw_text(canvas, EDGE, EDGE, of, 8)

    def _draw_head(self, canvas: Canvas, top: float) -> float:
        words, face = self.words, self.face
        top = self._draw_bar(canvas, top)
        draw_code(canvas, self.code, EDGE + self.width - _CODE_SIDE, top - _CODE_SIDE, _CODE_SIDE)
        width = self.width - _CODE_SIDE - 3 * MM
        below = top
        for text, height, size, bold in (
            (words.name, 12 * MM, 26, True),
            (words.place, 7 * MM, 13, False),
            (words.summary, 7 * MM, 11, False),
        ):
            line = fit_text(text, width, height, face, largest=size, bold=bold)
            below = line.draw_lines(canvas, face, EDGE, below) - 0.5 * MM
        top -= _CODE_SIDE + 2 * MM
        if words.complaint:
            top = self._complaint().draw_lines(canvas, face, EDGE, top) - 2 * MM
        return top

    def _draw_later_head(self, canvas: Canvas, top: float) -> float:
        below = self._draw_bar(canvas, top)
        text = f"{self.words.name} · {self.words.place}"
        title = fit_text(text, self.width, 9 * MM, self.face, largest=13, bold=True)
        title.draw_lines(canvas, self.face, EDGE, below)
        return top - _LATER_HEAD

    def _draw_bar(self, canvas: Canvas, top: float) -> float:
        """The warning, white on black; tells where what follows begins."""
        canvas.setFillGray(0)
        canvas.rect(EDGE, top - _BAR, self.width, _BAR, stroke=0, fill=1)
        canvas.setFillGray(1)
        base = top - 0.7 * _BAR
        self.face.draw_text(canvas, EDGE + 2 * MM, base, self.words.warning, 17, bold=True)
        canvas.setFillGray(0)
        return top - _BAR - 2 * MM

    def _draw_column_head(self, canvas: Canvas, top: float) -> float:
        base = top - 4.2 * MM
        self.face.draw_text(canvas, EDGE + _NUMBER + _PAD, base, "Do", 9, bold=True)
        for place, name in enumerate(self.boxes):
            head = fit_text(name, _BOX - 2, _COLUMN_HEAD, self.face, largest=9, bold=True)
            left = self._box_left(place) + 1
            self.face.draw_text(canvas, left, base, head.lines[0], head.size, bold=True)
        canvas.setLineWidth(1)
        canvas.setStrokeGray(0)
        canvas.line(EDGE, top - _COLUMN_HEAD, EDGE + self.width, top - _COLUMN_HEAD)
        return top - _COLUMN_HEAD

    def _box_left(self, place: int) -> float:
        return EDGE + self.width - (len(self.boxes) - place) * _BOX

    def _draw_row(self, canvas: Canvas, row: StepRow, top: float) -> None:
        bottom = top - row.height
        step = row.step
        self.face.draw_text(canvas, EDGE + 1, top - 5.2 * MM, str(row.number), 13, bold=True)
        below = top - _PAD
        for part in row.parts:
            below = part.draw_lines(canvas, self.face, EDGE + _NUMBER + _PAD, below)
        units = (step.quantity_unit, step.reading_unit, " " if step.has_colour else "", "hour")
        for place, unit in enumerate(units[-len(self.boxes) :]):
            if unit:
                self._draw_box(canvas, self._box_left(place), bottom, row.height, unit.strip())
        canvas.setLineWidth(0.4)
        canvas.setStrokeGray(0)
        canvas.line(EDGE, bottom, EDGE + self.width, bottom)

    def _draw_box(
        self, canvas: Canvas, left: float, bottom: float, height: float, unit: str
    ) -> None:
        """A box to write into, as high as a hand needs, its unit in the corner."""
        high = min(height - 2 * MM, 16 * MM)
        low = bottom + height - 1 * MM - high
        canvas.setLineWidth(0.8)
        canvas.setStrokeGray(0)
        canvas.rect(left + 1, low, _BOX - 2, high, stroke=1, fill=0)
        width = self.face.text_width(unit, 8)
        self.face.draw_text(canvas, left + _BOX - 3 - width, low + 2, unit, 8)

    def _draw_notes(self, canvas: Canvas, top: float) -> None:
        base = top - 6 * MM
        poured = len(self.boxes) == len(_BOXES)
        asked = "Other product or lot; found on the way:" if poured else "Found on the way:"
        self.face.draw_text(canvas, EDGE, base, asked, 9, bold=True)
        canvas.setLineWidth(0.4)
        for line in (1, 2):
            y = base - line * 8 * MM
            canvas.line(EDGE, y, EDGE + self.width, y)
