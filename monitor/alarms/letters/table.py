"""Everything that a long message leaves out, as a table that any spreadsheet opens."""

import csv
import io
import math

from monitor.alarms.entry import Letter
from monitor.alarms.letters.entry_reading import names_of, work_order
from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import part_name, plain, space_name
from monitor.units import in_unit
from monitor.wording import Wording
from monitor.yard.assessment import Assessment
from monitor.yard.message import Attachment
from monitor.yard.space import Yard


def table_of(letter: Letter, yard: Yard, wording: Wording) -> Attachment:
    """Everything as a table that any spreadsheet opens."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(_columns(wording))
    for entry in sorted((*letter.entries, *letter.beside), key=work_order):
        seen, craft = entry.assessment, entry.craft
        deadline = entry.alarm.deadline
        writer.writerow(
            _cell(value)
            for value in (
                entry.alarm.craft,
                craft.name if craft else "",
                space_name(yard, entry.alarm.space),
                craft.berth if craft else "",
                part_name(craft, entry.alarm.part),
                str(seen.standing) if seen else "not known",
                f"{deadline.astimezone(wording.zone):%Y-%m-%d %H:%M %Z}" if deadline else "",
                *_degrees(seen, wording),
                act_text(seen, names_of(entry, yard), wording) if seen else "",
                basis_text(seen, names_of(entry, yard), wording) if seen else "",
            )
        )
    return Attachment(
        filename=f"{letter.topic}.csv",
        media_type="text/csv",
        content=out.getvalue().encode("utf-8-sig"),  # the mark tells spreadsheets it is UTF-8
    )


def _columns(wording: Wording) -> tuple[str, ...]:
    unit = f"°{wording.temperature_unit}"
    return (
        *("craft", "name", "space", "berth", "part", "standing", "act before"),
        *(f"now {unit}", f"low {unit}", f"limit {unit}", "act", "basis"),
    )


def _degrees(seen: Assessment | None, wording: Wording) -> list[str]:
    """Numbers alone, for a spreadsheet to reckon with; the unit stands in the heading."""
    if seen is None:
        return ["", "", ""]
    values = [
        in_unit(each, wording.temperature_unit) for each in (seen.now_c, seen.low_c, seen.limit_c)
    ]
    return ["" if math.isnan(each) else f"{each:.1f}" for each in values]


def _cell(value: str) -> str:
    """A cell that a spreadsheet takes for text, never for a formula."""
    line = plain(value, limit=500)
    is_number = line.replace(".", "", 1).lstrip("-").isdigit()
    return f"'{line}" if line[:1] in {"=", "+", "-", "@"} and not is_number else line
