"""Quality of storage as files to hand over: PDF, CSV and JSON, all of one set of figures."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from monitor.phrases.names import plain
from monitor.reports.season.page_blocks import Block, Drawn, Part, RecordPages, Told, moment_words
from monitor.reports.storage.figures import StorageFigures
from monitor.reports.storage.storage_rows import storage_csv, storage_json
from monitor.reports.storage.storage_words import (
    HOW_COUNTED,
    NIGHT_HEADS,
    SEASON_HEADS,
    SPACE_HEADS,
    SpaceWords,
    compared_bodies,
    storage_words,
)
from monitor.wording import Wording
from monitor.yard.caution import NOT_LIFE_SAFETY_NOTE

FORMS = {"pdf": "application/pdf", "csv": "text/csv; charset=utf-8", "json": "application/json"}
_BAR = "Solid: inside the limits. Pale: heard, and outside. Empty: not heard."


def storage_file(
    seasons: Sequence[StorageFigures],
    form: str,
    words: Wording,
    paper: str,
    beside: Sequence[Mapping[str, Any]] = (),
) -> bytes:
    """Write a season, compared with those before it.

    Parameters
    ----------
    seasons : sequence of StorageFigures
        The newest first, as `read_storage_seasons` has them.
    form : str
        Of `FORMS`.
    words : Wording
        Zone and units of the reader, for the PDF.
    paper : str
        ``a4`` or ``letter``.
    beside : sequence of mapping
        JSON of other yards or seasons that the PDF compares with.
    """
    figures, *earlier = seasons
    if form == "csv":
        return storage_csv(seasons).encode()
    body = storage_json(figures, earlier)
    content = json.dumps(body, ensure_ascii=False, indent=1).encode()
    if form == "json":
        return content
    # The typesetter is loaded only where a page is set.
    from monitor.reports.season.record_pdf import write_record_pdf

    return write_record_pdf(
        storage_pages(figures, compared_bodies(body, beside), words), content, paper
    )


def storage_name(figures: StorageFigures, form: str) -> str:
    """Name of its file, of letters that every file system takes: ``storage-mill-lane-2026.pdf``."""
    yard = "".join(one if one.isascii() and one.isalnum() else "-" for one in figures.yard)
    return f"storage-{yard.strip('-') or 'yard'}-{figures.season}.{form}"


def storage_pages(
    figures: StorageFigures, bodies: Sequence[Mapping[str, Any]], words: Wording
) -> RecordPages:
    """Lay a season out as pages."""
    said = storage_words(figures, bodies, words)
    whole: list[Block] = list(_blocks_of(said.whole, is_whole=True))
    if said.overview:
        whole.append(_table("The spaces", SPACE_HEADS, said.overview))
    if len(said.seasons) > 1:
        whole.append(_table("Beside other seasons and yards", SEASON_HEADS, said.seasons))
    return RecordPages(
        title=said.title,
        yard=plain(figures.yard_name),
        made=figures.made_at,
        facts=[
            ("Season", said.dates),
            ("Made", f"{moment_words(figures.made_at, words)}, by laidup {plain(figures.program)}"),
        ],
        parts=[
            Part(title="The whole yard", blocks=whole),
            *(
                Part(title=f"{one.name}, {one.kind}", blocks=list(_blocks_of(one)))
                for one in said.spaces
            ),
            Part(title="How it is counted", blocks=list(HOW_COUNTED)),
        ],
        signatures=[],
        foot=NOT_LIFE_SAFETY_NOTE,
        attachment="storage.json",
        attachment_words="The figures of this report for machines: JSON, SI units, UTC",
    )


def _blocks_of(space: SpaceWords, *, is_whole: bool = False) -> list[Block]:
    blocks: list[Block] = []
    if space.bar:
        caption = _BAR if is_whole else ""
        blocks.append(Drawn(svg=space.bar, words=f"{space.bar_words}.", caption=caption))
    blocks += space.lines
    if space.nights:
        blocks.append(_table("The worst nights", NIGHT_HEADS, space.nights))
    return blocks


def _table(title: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> Told:
    return Told(title=title, heads=heads, rows=list(rows), shares=(1.6, *(1.0,) * (len(heads) - 1)))
