"""The sheet of one device: all that has to be set on it, as text and as a page to print."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from jinja2 import Environment, StrictUndefined

from monitor.commands.access.broker_users import UserKind

_WIDTH = 16
_PAGE = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True).from_string("""\
<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{{ title }}</title>
<style>
body { font: 11pt/1.4 sans-serif; max-width: 46em; margin: 2em auto; color: #000; background: #fff }
th { text-align: left; padding: .25em 1.5em .25em 0; vertical-align: top; white-space: nowrap }
td { padding: .25em 0; overflow-wrap: anywhere }
td, pre { font-family: monospace }
pre { font-size: 8pt; border: 1px solid #666; padding: .5em }
@page { margin: 18mm }
</style></head><body>
<h1>{{ title }}</h1>
<p><strong>{{ caution }}</strong></p>
<table>
{% for name, value in rows %}
<tr><th scope="row">{{ name }}</th><td>{{ value }}</td></tr>
{% endfor %}
</table>
{% for line in notes %}
<p>{{ line }}</p>
{% endfor %}
<pre>{{ certificate }}</pre>
</body></html>
""")
_CAUTION = (
    "Whoever has this sheet can speak in this device's name. Keep it where only the yard's people"
    " come, and shred it when the device is gone."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What one device is told; ``password`` is secret."""

    yard_name: str
    user: str
    kind: UserKind
    host: str
    port: int
    topic: str
    password: str
    sensors: Sequence[str]  # name and place of each that the yard's file has behind this user
    authority: str  # PEM
    fingerprint: str
    made_on: date

    @property
    def title(self) -> str:
        """Heading of the sheet."""
        return f"{self.user}: access to the broker of {self.yard_name}"


def sheet_rows(sheet: Sheet) -> list[tuple[str, str]]:
    """Name and value of each setting, in the order in which devices ask for them."""
    does = "Follows" if sheet.kind is UserKind.LAMP else "Publishes to"
    rows = [
        ("Host", sheet.host),
        ("Port", f"{sheet.port} (MQTT over TLS 1.2 or newer)"),
        ("User", sheet.user),
        ("Password", sheet.password),
        ("Client id", f"{sheet.user} (the broker takes no other)"),
        (does, f"{sheet.topic}, QoS 1"),
        *(("Sensor", sensor) for sensor in sheet.sensors),
        ("Certificate", f"SHA-256 {sheet.fingerprint}"),
        ("Made on", sheet.made_on.isoformat()),
    ]
    return rows


def _notes(sheet: Sheet) -> list[str]:
    notes = [
        "Put the certificate below on the device as its only certificate authority, and leave its"
        " check of the broker's name on. Compare the fingerprint where the device shows one.",
    ]
    if sheet.kind is UserKind.SENDER:
        notes.append(
            "After each reconnect let it repeat its last minute: laidup keeps a repeat only once."
            " One device for each user: two with one user throw each other out."
        )
    notes.append(
        f"Lost or stolen: laidup access revoke {sheet.user}. A new password:"
        f" laidup access new-password {sheet.user}."
    )
    return notes


def sheet_text(sheet: Sheet) -> str:
    """The sheet as plain text."""
    rows = [f"{name:<{_WIDTH}}{value}" for name, value in sheet_rows(sheet)]
    parts = [sheet.title, _CAUTION, "\n".join(rows), *_notes(sheet), sheet.authority.strip()]
    return "\n\n".join(parts) + "\n"


def sheet_page(sheet: Sheet) -> str:
    """The sheet as a page to print; it asks no other host for anything."""
    return _PAGE.render(
        title=sheet.title,
        caution=_CAUTION,
        rows=sheet_rows(sheet),
        notes=_notes(sheet),
        certificate=sheet.authority.strip(),
    )
