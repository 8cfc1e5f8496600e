"""The files of a new yard's folder, made of the example that comes with laidup and of answers.

Whatever the example says of one yard alone (its sensors, craft, people, antifreeze) stands there as
a comment: nothing that nobody said must be judged, or go into the lay-up record.
"""

import json
import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, create_model

from monitor.settings.faults import Block
from monitor.settings.load import shipped_folder
from monitor.settings.words import Id, MailAddress, PlainName, Port, Text, Zone
from monitor.yard.people import id_from
from monitor.yard.space import SpaceKind

YARD_FILE, CRAFT_FILE = "yard.toml", "craft.toml"
# File of laidup's own password to the broker, in the yard's folder.
BROKER_PASSWORD = "secrets/broker.password"  # noqa: S105  a path
MAIL_PASSWORD = "secrets/mail.password"  # noqa: S105  a path
BROKER_CERTIFICATE = "broker/broker.crt"  # where `laidup access` makes it
TLS_PORT = 8883  # of MQTT over TLS, as IANA's registry of ports has it
FOLDERS = ("profiles", "payloads", "data", "secrets")
_KEY = re.compile(r"(?:# )?(?P<key>[a-z_]+) = (?:\"[^\"]*\"|\[[^\]]*\]|[^ #]+)(?P<comment>\s+#.*)?")
_VOLUME_UNITS = {"C": "L", "F": "fl oz"}
# Users and topics of the example's own yard, where they stand in a comment.
_OF_THE_EXAMPLE = re.compile(r"(?P<before>^#.*\"(?:laidup-)?)mill-lane(?=[\"/])", re.MULTILINE)
# Paragraphs of the example that tell of its own yard alone.
_ONLY_SHOWN = ("[[shelf]]", "[[sensors]]")

_YARD_HEAD = """\
# The yard's own file. `laidup check` in this folder says what is wrong or missing in it.
# What stands behind a # is an example: take the # away and put your own in.
# docs/yard-file.md, in the program's folder, explains every key. Times are the yard's own.
"""
_CRAFT_HEAD = """\
# The yard's craft and the work done on them, as examples: take the # away and put your own in.
# Work is never edited here once laidup has taken it in: write a further entry that says what it
# replaces. Craft and work may also come by `laidup import craft FILE` and `laidup layup add`.
"""
_PROFILES_TEXT = """\
A file NAME.toml in here is a profile of this yard's own: a type of craft with its circuits.
Under the name of a profile that comes with laidup it takes that one's place; with
    extends = "NAME"
as its first line it changes only what it says. `laidup check` reads all of them.
"""
_PAYLOADS_TEXT = """\
A file NAME.toml in here is a payload mapping: how to read messages that are no SenML. Those that
come with laidup are examples of it. Try one on a captured message:
    laidup check --payload FILE --topic TOPIC
"""
_GITIGNORE = """\
# Where this folder is kept under version control: what is secret or grows by itself stays out.
/data/
/secrets/
/broker/
*.password
*.key
*.store-begun
*.db*
"""

Host = Annotated[str, StringConstraints(pattern=r"^[^\s/@]+$")]


class NewYard(Block):
    """What has to be known of a yard before it has a file."""

    name: PlainName
    id: Id
    timezone: Zone
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    units: Literal["C", "F"]
    person: PlainName
    mail: MailAddress
    spaces: tuple[tuple[PlainName, SpaceKind], ...] = ()
    mail_server: Host | None = None
    mail_port: Port = 587
    mail_user: Text | None = None
    broker: Host | None = None  # one that is there already; None: on laidup's own machine
    broker_port: Port = TLS_PORT
    broker_user: Text | None = None


def answer_model(name: str) -> type[Block]:
    """The model of one answer alone, so that it can be checked before the next question."""
    field = NewYard.model_fields[name]
    definition: Any = (field.annotation, field)
    return create_model(f"Answer_{name}", __base__=Block, **{name: definition})


def files_of(new: NewYard) -> dict[str, str]:
    """Text of each file of the yard's folder, by its path inside the folder."""
    example = shipped_folder()
    return {
        YARD_FILE: _yard_text(new, (example / YARD_FILE).read_text(encoding="utf-8")),
        CRAFT_FILE: _craft_text((example / CRAFT_FILE).read_text(encoding="utf-8")),
        "profiles/about.txt": _PROFILES_TEXT,
        "payloads/about.txt": _PAYLOADS_TEXT,
        ".gitignore": _GITIGNORE,
    }


def toml_value(value: object) -> str:
    """A value as TOML writes it: of text, lists of text and numbers JSON is the same."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _yard_text(new: NewYard, example: str) -> str:
    _, *paragraphs = example.strip().split("\n\n")  # the first is the example's own heading
    written = [_YARD_HEAD.strip()]
    spaces_written = False
    for paragraph in paragraphs:
        block = next((line for line in paragraph.splitlines() if not line.startswith("#")), "")
        if block == "[[spaces]]" and new.spaces:
            if not spaces_written:
                written += _space_blocks(new)
            spaces_written = True
        elif block == "[[people]]" and '"owner"' not in paragraph:
            written.append(_with_values(paragraph, _operator_values(new)))
        elif block in {*_ONLY_SHOWN, "[[people]]", "[[spaces]]"}:
            written.append(_as_comment(paragraph))
        elif block == "[mail]" and new.mail_server is None:
            written.append(_as_comment(_with_values(paragraph, _mail_values(new))))
        else:
            written.append(_with_values(paragraph, _values(new).get(block, {})))
    return _OF_THE_EXAMPLE.sub(rf"\g<before>{new.id}", "\n\n".join(written)) + "\n"


def _craft_text(example: str) -> str:
    _, _, craft = example.partition("[[craft]]")  # before it stands the example's own heading
    return f"{_CRAFT_HEAD}\n{_as_comment('[[craft]]' + craft.rstrip())}\n"


def _values(new: NewYard) -> Mapping[str, Mapping[str, Any]]:
    """What takes the place of the example's values, by block and key."""
    return {
        "[yard]": {
            "id": new.id,
            "name": new.name,
            "timezone": new.timezone,
            "latitude": new.latitude,
            "longitude": new.longitude,
            "temperature_unit": new.units,
            "volume_unit": _VOLUME_UNITS[new.units],
        },
        "[store]": {"url": "sqlite:///data/laidup.db"},
        "[broker]": {"topics": [f"{new.id}/#"], **_broker_of(new)},
        "[mail]": _mail_values(new),
    }


def broker_values(yard: str, folder: str = "broker") -> Mapping[str, Any]:
    """Values of ``[broker]`` for a broker on laidup's machine, as `laidup access` makes it ready.

    Parameters
    ----------
    yard : str
        The yard's id.
    folder : str
        Where its certificates are, as seen from the yard's folder.
    """
    return {
        "host": "127.0.0.1",
        "port": TLS_PORT,
        "username": f"laidup-{yard}",
        "password_file": BROKER_PASSWORD,
        "tls": True,
        "ca_file": f"{folder}/ca.crt",
    }


def _broker_of(new: NewYard) -> Mapping[str, Any]:
    """The broker that was named, else the one that is made ready on laidup's own machine."""
    if new.broker is None:
        return broker_values(new.id)
    named = {"host": new.broker, "port": new.broker_port}
    if new.broker_user is not None:
        named |= {"username": new.broker_user, "password_file": BROKER_PASSWORD}
    return {**named, "tls": True} if new.broker_port == TLS_PORT else named


def _mail_values(new: NewYard) -> Mapping[str, Any]:
    sender = f"watch@{new.mail.rpartition('@')[2]}"
    if new.mail_server is None:
        return {"host": "mail.example", "port": 587, "security": "starttls", "sender": sender}
    security = {25: "none", 465: "tls"}.get(new.mail_port, "starttls")
    return {
        "host": new.mail_server,
        "port": new.mail_port,
        "security": security,
        "sender": sender,
        **(
            {"username": new.mail_user, "password_file": MAIL_PASSWORD}
            if new.mail_user is not None
            else {}
        ),
    }


def _operator_values(new: NewYard) -> Mapping[str, Any]:
    return {"id": id_from(new.person), "name": new.person, "mail": new.mail}


def _space_blocks(new: NewYard) -> list[str]:
    written, taken = [], set()
    for name, kind in new.spaces:
        plain = id_from(name)
        own = next(
            one for one in (plain, *(f"{plain}-{n}" for n in range(2, 99))) if one not in taken
        )
        taken.add(own)
        lines = ["[[spaces]]", f"id = {toml_value(own)}", f"name = {toml_value(name)}"]
        lines += [f"kind = {toml_value(kind.value)}", '# berths = ["1", "2", "3"]']
        written.append("\n".join(lines))
    return written


def _with_values(paragraph: str, values: Mapping[str, Any]) -> str:
    """A block with other values at its keys; a comment behind a value stays."""
    lines = []
    for line in paragraph.splitlines():
        match = _KEY.fullmatch(line)
        if match is not None and match["key"] in values:
            line = f"{match['key']} = {toml_value(values[match['key']])}{match['comment'] or ''}"
        lines.append(line)
    return "\n".join(lines)


def _as_comment(paragraph: str) -> str:
    lines = paragraph.splitlines()
    return "\n".join(line if line.startswith("#") else f"# {line}".rstrip() for line in lines)
