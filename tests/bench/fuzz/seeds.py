"""Sound payloads of every kind, out of what the tests and the example yard hold already."""

import json

from monitor.settings.load import shipped_folder
from tests.intake import fuzz as messages

_HERE = messages.HERE
_SAMPLES = json.loads((_HERE / "forecast" / "samples.json").read_text(encoding="utf-8"))
_CRAFT_CSV = """id,name,profile,arrived,place,fittings,owner,note
k1,Teal,pwc-two-stroke,2026-10-24 10:00,long-shed/1,,owner-k01,
k2,Kite,outboard,2026-10-25T09:00,lee-rack,washdown ballast,,"by the door, left"
k3,Wigeon,inboard-raw-water,24 Oct 2026,Long Shed/2,head,,
"""
_CRAFT_TOML = """[[craft]]
id = "k1"
name = "Teal"
profile = "pwc-two-stroke"
arrived = 2026-10-24T10:00:00
[[craft.stays]]
place = "long-shed/1"
[[craft.layup]]
at = 2026-10-27T10:00:00
by = "Ines Aldaz"
act = "antifreeze-poured"
circuits = ["water-box"]
product = { name = "pink", liquid = "propylene", strength = "50%" }
quantity = "12floz"
ice_point = "-22F"
"""
_WORK_CSV = """craft,at,by,act,circuits,product,liquid,strength,quantity,outflow,ice_point,dry
k1,13 Nov 2026 10:00,Tom,run-on-water,,,,,,,,
,,,antifreeze-poured,water-box,pink,propylene,50%,1.5 L,seen,-21 C,
k2,2026-11-13T11:00,Ines Aldaz,drained,cylinder-passages,,,,,,,yes
"""
_WORK_TOML = """[[job]]
craft = "k1"
by = "Tom Varga"
at = 2026-11-13T10:00:00
[[job.steps]]
act = "drained"
circuits = ["cylinder-passages"]
dry = true
[[job.steps]]
act = "antifreeze-poured"
circuits = ["water-box"]
product = { name = "pink", liquid = "propylene", strength = "50%" }
quantity = "1.5 L"
"""
_READINGS = (
    """at,sensor,temperature [degF],humidity [%]
2026-11-14T10:00:00-06:00,urn:dev:ops:a,31.5,80
2026-11-14T10:10:00-06:00,urn:dev:ops:a,,81
""",
    """at;sensor;label;unit;value
2026-11-14T10:00:00Z;urn:dev:ops:a;temperature;Cel;-3,5
""",
)
_MAIL_ANSWERS = (
    "550 5.1.1 The email account that you tried to reach does not exist",
    "450 4.2.0 <ines@yard.example>: Recipient address rejected: Greylisted, come again later",
    "552 5.3.4 Message size exceeds fixed limit",
    "421 4.3.2 Service shutting down",
    "550 no such user here",
    "250-yard.example\r\n250-SIZE 10240000\r\n250 HELP",
)


def senml_json() -> list[bytes]:
    """Packs in JSON."""
    return [body for topic, body in messages.sound() if topic == "a/senml" and body[:1] == b"["]


def senml_cbor() -> list[bytes]:
    """The same in CBOR."""
    return [body for topic, body in messages.sound() if topic == "a/senml" and body[:1] != b"["]


def mapped() -> list[bytes]:
    """Other payloads, each behind a line with its topic."""
    return [topic.encode() + b"\n" + body for topic, body in messages.sound() if topic != "a/senml"]


def forecasts() -> list[bytes]:
    """Answers of both agencies, each behind a line with its form."""
    found = [
        f"{name}\n{json.dumps(one['response'])}".encode()
        for name, one in _SAMPLES.items()
        if isinstance(one, dict) and "response" in one
    ]
    links = {
        "properties": {
            "forecastGridData": "https://api.weather.example/gridpoints/MPX/107,71",
            "forecastHourly": "https://api.weather.example/gridpoints/MPX/107,71/forecast/hourly",
        }
    }
    return [*found, f"links\n{json.dumps(links)}".encode()]


def mail_answers() -> list[bytes]:
    """What mail servers say."""
    return [one.encode() for one in _MAIL_ANSWERS]


def readings() -> list[bytes]:
    """A logger's download in both forms."""
    return [one.encode() for one in _READINGS]


def craft_lists() -> list[bytes]:
    """A season's list of craft, with each sign that may part its cells."""
    return [_CRAFT_CSV.replace(",", sign).encode() for sign in (",", ";", "\t")]


def craft_files() -> list[bytes]:
    """Craft with their work."""
    return [_CRAFT_TOML.encode(), (_CRAFT_TOML + _CRAFT_TOML.replace("k1", "k2")).encode()]


def work_lists() -> list[bytes]:
    """A day's work, as a table."""
    return [_WORK_CSV.encode(), _WORK_CSV.replace(",", ";").encode()]


def work_files() -> list[bytes]:
    """The same as jobs and steps."""
    return [_WORK_TOML.encode()]


def _shipped(pattern: str) -> list[bytes]:
    return [file.read_bytes() for file in sorted(shipped_folder().glob(pattern))]


def yards() -> list[bytes]:
    """The example yard, and what of it is commented out as well; craft are read elsewhere."""
    found = [text.replace(b'craft_files = ["craft.toml"]', b"") for text in _shipped("yard.toml")]
    open_text = [
        b"\n".join(line.removeprefix(b"# ") if b"=" in line or line[:3] == b"# [" else line
                   for line in text.split(b"\n"))
        for text in found
    ]  # fmt: skip
    return found + open_text


def profiles() -> list[bytes]:
    """All types of craft."""
    return _shipped("profiles/*.toml")


def mappings() -> list[bytes]:
    """All mappings of payloads."""
    return _shipped("payloads/*.toml")
