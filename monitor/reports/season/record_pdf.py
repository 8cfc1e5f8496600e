"""A season record as PDF/A-3a: tagged, its fonts inside, and the record for machines attached.

Typst lays the pages out: it tags what it sets, refuses what breaks a rule of PDF/A-3a or PDF/UA-1
that it can check, and needs no package of the system. The library of the labels cannot tag; one
that sets HTML needs a text layout library by apt.
"""

import json
import unicodedata
from collections.abc import Iterable, Mapping
from datetime import UTC
from functools import cache
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from monitor.errors import BadValueError, LaidupError
from monitor.reports.season.page_blocks import Drawn, Part, RecordPages, Told

PAPERS = {"a4": "a4", "letter": "us-letter"}
_STANDARDS = ["a-3a", "ua-1"]
# Variation selectors choose between two looks of the sign before them, and have none of their own.
_UNSEEN = {chr(code) for code in range(0xFE00, 0xFE10)}
# Around a name they order what stands beside it (UAX 9), need no form, and are set as they are.
_ISOLATES = "\u2068\u2069"


def write_record_pdf(pages: RecordPages, record: bytes, paper: str) -> bytes:
    """Set a record's pages, with the record for machines inside.

    Parameters
    ----------
    pages : RecordPages
        In words.
    record : bytes
        The JSON as it was sealed.
    paper : str
        Of `PAPERS`.

    Raises
    ------
    BadValueError
        If the paper is none of them.
    LaidupError
        If the pages cannot be set; nothing is written then.
    """
    import typst  # loaded only where a record is printed

    if paper not in PAPERS:
        raise BadValueError(f"paper {paper!r}", f"it is one of {', '.join(PAPERS)}")
    set_pages: Any = typst.compile  # its types want each standard's name as a literal
    inputs = {
        "page": json.dumps(_page_json(pages, PAPERS[paper]), ensure_ascii=False),
        "record": record.decode(),
    }
    try:
        made = set_pages(
            _layout(),
            font_paths=_fonts(),
            ignore_system_fonts=True,
            sys_inputs=inputs,
            pdf_standards=_STANDARDS,
            format="pdf",
        )
    except typst.TypstError as error:
        raise LaidupError(
            f"{pages.title} could not be set, and no file is written: {error.message}"
        ) from error
    if not isinstance(made, bytes):
        raise LaidupError(f"{pages.title} could not be set: no page came out")
    return made


def printable_text(text: str) -> str:
    """The text with pictures that no font has told by their names, other signs by their codes.

    ``‹speedboat›``, ``‹U+6C34›``: a name must never lose a part unseen, nor become a row of empty
    boxes.
    """
    if text.isascii():
        return text
    known = _known_signs()
    return "".join(
        sign if ord(sign) in known or sign in _ISOLATES else f"‹{_told_sign(sign)}›"
        for sign in text
        if sign not in _UNSEEN
    )


def _told_sign(sign: str) -> str:
    """A picture's name (Unicode Character Database); of other signs the code."""
    name = unicodedata.name(sign, "").lower()
    if name and unicodedata.category(sign) in {"So", "Sk"}:
        return name
    return f"U+{ord(sign):04X}"


def _page_json(pages: RecordPages, paper: str) -> dict[str, Any]:
    made = pages.made.astimezone(UTC)
    said: dict[str, Any] = _printable(
        {
            "title": pages.title,
            "yard": pages.yard,
            "made": [made.year, made.month, made.day, made.hour, made.minute, made.second],
            "paper": paper,
            "language": pages.language,
            "facts": [list(row) for row in pages.facts],
            "parts": [_part_json(one, pages) for one in pages.parts],
            "signing": pages.signing,
            "signing-words": pages.signing_words,
            "signatures": pages.signatures,
            "foot": pages.foot,
            "attachment": pages.attachment,
            "attachment-words": pages.attachment_words,
        }
    )
    return said


def _part_json(part: Part, pages: RecordPages) -> dict[str, Any]:
    blocks: list[dict[str, Any]] = []
    for one in part.blocks:
        block = _block_json(one, pages)
        if isinstance(one, Drawn) and one.is_half:
            if not blocks or blocks[-1]["kind"] != "pair" or len(blocks[-1]["charts"]) > 1:
                blocks.append({"kind": "pair", "charts": []})
            blocks[-1]["charts"].append(block)
        else:
            blocks.append(block)
    return {"title": part.title, "blocks": blocks, "own-page": part.on_own_page}


def _block_json(block: str | Told | Drawn, pages: RecordPages) -> dict[str, Any]:
    if isinstance(block, str):
        return {"kind": "text", "text": block}
    if isinstance(block, Drawn):
        return {"kind": "chart", "svg": block.svg, "alt": block.words, "caption": block.caption}
    count = f"{block.left_out:,}".replace(",", pages.thousands)
    left = pages.left_out.format(count=count) if block.left_out else ""
    return {
        "kind": "table",
        "title": block.title,
        "heads": list(block.heads),
        "rows": [list(row) for row in block.rows],
        "shares": list(block.shares),
        "left": left,
    }


def _printable(said: Any) -> Any:  # noqa: ANN401 - whatever JSON holds
    if isinstance(said, str):
        return printable_text(said)
    if isinstance(said, Mapping):
        return {key: one if key == "svg" else _printable(one) for key, one in said.items()}
    if isinstance(said, Iterable):
        return [_printable(one) for one in said]
    return said


@cache
def _layout() -> bytes:
    return files("monitor.reports.season").joinpath("record.typ").read_bytes()


@cache
def _font_folder() -> Path:
    # The drawing library of the reports brings a face along that has most alphabets.
    found = find_spec("matplotlib")  # found, not imported: that takes a second
    if found is None or not found.submodule_search_locations:
        raise LaidupError("The font that comes with matplotlib is gone: install laidup again.")
    return Path(found.submodule_search_locations[0]) / "mpl-data" / "fonts" / "ttf"


@cache
def _fonts() -> Any:  # noqa: ANN401 - a class without types
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[_font_folder()])


@cache
def _known_signs() -> frozenset[int]:
    from matplotlib.ft2font import FT2Font

    return frozenset(FT2Font(str(_font_folder() / "DejaVuSans.ttf")).get_charmap())
