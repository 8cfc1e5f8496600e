"""The templates of all pages: what each may call, where each page lives; every text is escaped."""

import math
from base64 import b64encode
from collections.abc import Callable
from datetime import date
from hashlib import sha256
from pathlib import Path
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined

from monitor.phrases.alarm_lines import headline_text, reason_text
from monitor.phrases.craft_tonight import DO_NOT_START, circuit_in_short, circuit_tonight
from monitor.phrases.figures import figures_of
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import ALARM_STATE, SPACE_KIND, judged_part_name, plain, plain_line
from monitor.phrases.numbers import margin_words, numbers_in_line
from monitor.phrases.owner_page_words import PAGE_WORDS_OF
from monitor.phrases.plan import also_words, asked_words, starts_from_nothing, step_sentence
from monitor.phrases.space_tonight import space_tonight, venting_text
from monitor.phrases.spring_progress import done_words, state_words
from monitor.phrases.standings import is_well, row_of
from monitor.phrases.step_in_words import capitalize_first
from monitor.phrases.supplies import minutes_words
from monitor.phrases.work_told import (
    act_line,
    basis_words,
    changed_fields,
    contents_words,
    done_by,
    evidence_line,
    limit_words,
    place_line,
)
from monitor.wording import typeset
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_NOTES, CAUTION_TEXT

_SHEETS = {
    each.name: each.read_text(encoding="utf-8")
    for each in sorted((Path(__file__).parent / "static").glob("*.css"))
}
# For a Content-Security-Policy: what stands in a page is taken for style where it is one of these.
STYLE_SOURCES = " ".join(
    f"'sha256-{b64encode(sha256(each.encode()).digest()).decode()}'" for each in _SHEETS.values()
)


def embed_style(name: str) -> str:
    """A style sheet, inside the page.

    A browser shows no text before it has every sheet, and asks for one that stands apart only once
    the page is there: one more way there and back, a third of a second on a phone's slow line.
    """
    return f"<style>{_SHEETS[name]}</style>"


def caution_note(care: str) -> str:
    """A caution in a few words, for beside its act; empty for one that stands at the foot."""
    return CAUTION_NOTES.get(Caution(str(care)), "")


def weekday_name(number: int) -> str:
    """A day of the week by its number, Monday 0."""
    return ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")[number]


# What templates call by its own name.
_WORDS: tuple[Callable[..., object], ...] = (
    act_line,
    also_words,
    asked_words,
    basis_words,
    caution_note,
    changed_fields,
    circuit_in_short,
    circuit_tonight,
    contents_words,
    done_by,
    done_words,
    embed_style,
    evidence_line,
    limit_words,
    minutes_words,
    place_line,
    plain,
    plain_line,
    reason_text,
    space_tonight,
    starts_from_nothing,
    state_words,
    step_sentence,
    venting_text,
)


def make_page_templates() -> Environment:
    """The environment that renders every page."""
    # Escaping is not a decoration: every text may come from outside, down to a craft's name.
    templates = Environment(
        loader=PackageLoader("monitor.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.globals.update(
        nan=math.nan,
        has_yard_pages=False,
        up="",  # the way to the root, for a proxy may have put all of this below a path
        ALARM_STATE=ALARM_STATE,
        SPACE_KIND=SPACE_KIND,
        PAGE_WORDS_OF=PAGE_WORDS_OF,
        NOT_LIFE_SAFETY=CAUTION_TEXT[Caution.NOT_LIFE_SAFETY],
        act_text=act_text,
        basis_text=basis_text,
        craft_path=craft_path,
        figures_of=figures_of,
        headline_text=headline_text,
        is_well=is_well,
        judged_part_name=judged_part_name,
        margin_words=margin_words,
        numbers_in_line=numbers_in_line,
        row_of=row_of,
        space_path=space_path,
    )
    templates.globals.update({said.__name__: said for said in _WORDS}, DO_NOT_START=DO_NOT_START)
    templates.filters["typeset"] = typeset
    templates.filters["plain"] = plain
    templates.filters["weekday_name"] = weekday_name
    templates.filters["capitalized"] = capitalize_first
    return templates


# Relative to the root, for a proxy may have put all of it below a path.
def craft_path(craft: str, part: str = "") -> str:
    """Path of a craft's page, or of one part of it."""
    return f"craft/{quote(craft, safe='')}{f'#{quote(part)}' if part else ''}"


def work_done_path(craft: str) -> str:
    """Path of the bench at tonight's part of a craft's job."""
    return f"{craft_path(craft)}/bench?job=tonight"


def space_path(space: str) -> str:
    """Path of a space's page."""
    return f"spaces/{quote(space, safe='')}"


def night_path(evening: date) -> str:
    """Path of a past evening as it was seen then."""
    return f"history/{evening.isoformat()}"
