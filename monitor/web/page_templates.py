"""The templates of all pages: what each may call, where each page lives; every text is escaped."""

import math
from datetime import date
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined

from monitor.phrases.alarm_lines import headline_text
from monitor.phrases.figures import figures_of
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import ALARM_STATE, SPACE_KIND, judged_part_name
from monitor.phrases.numbers import margin_words, numbers_in_line
from monitor.phrases.standings import is_well, row_of
from monitor.wording import typeset
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_TEXT


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
        up="",  # the way to the root, for a proxy may have put all of this below a path
        ALARM_STATE=ALARM_STATE,
        SPACE_KIND=SPACE_KIND,
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
    templates.filters["typeset"] = typeset
    return templates


# Relative to the root, for a proxy may have put all of it below a path.
def craft_path(craft: str, part: str = "") -> str:
    """Path of a craft's page, or of one part of it."""
    return f"craft/{quote(craft, safe='')}{f'#{quote(part)}' if part else ''}"


def space_path(space: str) -> str:
    """Path of a space's page."""
    return f"spaces/{quote(space, safe='')}"


def night_path(evening: date) -> str:
    """Path of a past evening as it was seen then."""
    return f"history/{evening.isoformat()}"
