"""The drill's yard, and what its sensors read through a winter: the same for every run of a seed.

Four spaces under made-up weather, each a first-order lag behind it; the hall's stove fails twice
and one maintainer loses its mains. Those belong to the winter: also an undisturbed run has them.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.forecast import Issue, issues
from simulator.weather import Weather, synthetic

YARD = "brackwater"
START = datetime(2025, 11, 10, 12, tzinfo=UTC)
SAMPLE_S = 900
_LAGS_H = {"stove-hall": 14.0, "boat-hall": 8.0, "east-row": 1.0, "quay-rack": 0.25}
_SENSORS = {  # place of each thermometer, and how much colder than its space's middle it hangs [K]
    "stove-hall-door": ("stove-hall", 0.4),
    "stove-hall-loft": ("stove-hall", 0.0),
    "boat-hall-door": ("boat-hall", 0.5),
    "boat-hall-keel": ("boat-hall", 0.0),
    "east-row-bay": ("east-row", 0.0),
    "quay-rack-mast": ("quay-rack", 0.0),
}
_MAINTAINERS = {"dunlin": "boat-hall", "smew": "boat-hall", "garganey": "stove-hall"}
_SET_POINT_C, _STOVE_K = 7.0, 16.0  # how much warmer than outdoors the stove can keep its hall
_YARD_FILE = """
[yard]
id = "{yard}"
name = "Brackwater Sheds"
timezone = "Etc/GMT-1"
latitude = 52.5
longitude = 15.0
telephone = "555-0118"
craft_files = ["craft.toml"]
[store]
url = "{store}"
[broker]
port = {broker}
topics = ["{yard}/#"]
[mail]
host = "127.0.0.1"
port = {mail}
security = "none"
sender = "watch@brackwater.example"
[web]
port = 0
access = "open"
[forecast]
source = "met-norway"
contact = "watch@brackwater.example"
[annunciator]
topic = "{yard}-lamp"
{spaces}
{sensors}
[[people]]
id = "oda"
name = "Oda Lindqvist"
mail = "oda@brackwater.example"
roles = ["operator"]
[[people]]
id = "pim"
name = "Pim Aalto"
mail = "pim@brackwater.example"
roles = ["mechanic"]
[[people]]
id = "owner-1"
name = "Mirre Dost"
mail = "owner-1@owners.example"
roles = ["owner"]
"""
_SPACES = (
    ("stove-hall", "Stove Hall", "heated", 'thermostat = "7C"'),
    ("boat-hall", "Boat Hall", "cold", ""),
    ("east-row", "East Row", "wrapped", ""),
    ("quay-rack", "Quay Rack", "open", ""),
)
# id, name, profile, space, owner, and how far it was laid up.
_CRAFT = (
    ("merganser", "Merganser", "pwc-two-stroke", "boat-hall", "owner-1", "whole"),
    ("dunlin", "Dunlin", "outboard", "boat-hall", "owner-1", "none"),
    ("smew", "Smew", "pwc-two-stroke", "boat-hall", "", "weak"),
    ("whimbrel", "Whimbrel", "pwc-two-stroke", "east-row", "", "whole"),
    ("turnstone", "Turnstone", "outboard", "quay-rack", "", "none"),
    ("garganey", "Garganey", "sterndrive-raw-water", "stove-hall", "", "none"),
)
CRAFT = tuple(one[0] for one in _CRAFT)
NAMES = {id_: name for id_, name, *_ in (*_SPACES, *_CRAFT)}
_ENTRY = """
[[craft.layup]]
at = {at}
by = "oda"
act = "antifreeze-run-through"
circuits = [{circuits}]
product = {{ name = "pink", liquid = "propylene", strength = "{strength}", lot = "B-3" }}
quantity = "6L"
flow_order = "engine first"
outflow = "full colour"
ice_point = "{ice}"
scale = "propylene"
zeroed_on = {day}
"""
_CIRCUITS = '"cylinder-passages", "exhaust-jacket", "water-box", "hoses"'


@dataclass(frozen=True, slots=True)
class Pack:
    """What one sensor sends at one time."""

    at: datetime
    sensor: str
    topic: str
    records: tuple[tuple[str, str, int, float], ...]  # label, unit, Unix seconds, value
    every_s: int  # until the sensor's next pack

    def payload(self) -> bytes:
        """As SenML (RFC 8428) in JSON."""
        base_s = round(self.at.timestamp())
        fields = [
            {"n": label, "u": unit, "t": at_s - base_s, "v": value, "ut": self.every_s}
            for label, unit, at_s, value in self.records
        ]
        fields[0] |= {"bn": f"{self.sensor}:", "bt": base_s}
        return json.dumps(fields).encode()


class Winter:
    """All that the sensors of one winter read, and what a weather service said of it."""

    def __init__(self, days: int, seed: int, step_h: int = 1) -> None:
        """Make it up; the same days and seed make the same winter, sent every so many hours."""
        self.days, self.seed, self.step_h = days, seed, step_h
        self.end = START + timedelta(days=days)
        # The weather begins earlier, so that lags have settled, and ends later, for forecasts.
        self._weather = synthetic(seed, START - timedelta(days=5), self.end + timedelta(days=4))
        self.forecasts: list[Issue] = issues(self._weather, seed)
        first_s = START.timestamp() - 5 * 86400
        self._at_s = np.arange(first_s, self.end.timestamp() + SAMPLE_S, SAMPLE_S)
        outdoors = self._weather.during(self._at_s)
        # Two failures of the stove and one of a maintainer, at a third, half and two thirds of it.
        third = timedelta(days=days) / 3
        self.stove_out = tuple(
            (START + part * third, START + part * third + timedelta(hours=20)) for part in (1, 2)
        )
        self.mains_out = (START + 1.5 * third, START + 1.5 * third + timedelta(days=3))
        self._air = {name: self._space_air(name, outdoors) for name in _LAGS_H}
        self._vapour_pa = outdoors.vapour_pa
        self._noise = np.random.default_rng([seed, 5])

    def _space_air(self, space: str, outdoors: Weather) -> NDArray[np.float64]:
        """Air of a space, step by step behind the outdoors; the stove hall's is kept warm."""
        share = 1.0 - np.exp(-SAMPLE_S / 3600.0 / _LAGS_H[space])
        air, found = float(outdoors.air_c[0]), np.empty_like(self._at_s)
        out = [(begin.timestamp(), end.timestamp()) for begin, end in self.stove_out]
        for step, (at_s, outside_c) in enumerate(zip(self._at_s, outdoors.air_c, strict=True)):
            aim = float(outside_c) + (1.0 if space == "boat-hall" else 0.0)
            if space == "stove-hall" and not any(begin <= at_s < end for begin, end in out):
                aim = max(aim, min(_SET_POINT_C + 0.5, aim + _STOVE_K))
            air += share * (aim - air)
            found[step] = air
        return found

    def steps(self) -> Iterator[tuple[datetime, list[Pack]]]:
        """Step after step, what each sensor sends at its end."""
        at, place = START, int(np.searchsorted(self._at_s, START.timestamp()))
        while at < self.end:
            at += timedelta(hours=self.step_h)
            steps = range(place + 1, place + 1 + self.step_h * 3600 // SAMPLE_S)
            place = steps[-1]
            packs = [self._air_pack(at, name, steps) for name in _SENSORS]
            packs += [self._charge_pack(at, craft, steps) for craft in _MAINTAINERS]
            yield at, packs

    def _air_pack(self, at: datetime, name: str, steps: range) -> Pack:
        space, colder_k = _SENSORS[name]
        records: list[tuple[str, str, int, float]] = []
        for step in steps:
            at_s = round(float(self._at_s[step]))
            air = float(self._air[space][step]) - colder_k + float(self._noise.normal(0.0, 0.05))
            full_pa = 611.2 * np.exp(17.62 * air / (243.12 + air))
            humid = float(np.clip(100.0 * self._vapour_pa[step] / full_pa, 20.0, 97.0))
            records.append(("temperature", "Cel", at_s, round(air, 2)))
            records.append(("humidity", "%RH", at_s, round(humid, 1)))
        return Pack(
            at, f"urn:dev:ops:{YARD}-{name}", f"{YARD}/{name}", tuple(records), 3600 * self.step_h
        )

    def _charge_pack(self, at: datetime, craft: str, steps: range) -> Pack:
        name, records = f"maintainer-{craft}", list[tuple[str, str, int, float]]()
        for step in steps:
            at_s = round(float(self._at_s[step]))
            moment = datetime.fromtimestamp(at_s, UTC)
            dead = craft == "smew" and self.mains_out[0] <= moment < self.mains_out[1]
            hours = (moment - self.mains_out[0]).total_seconds() / 3600.0
            volts = 12.75 - 0.001 * hours if dead else 13.4
            records.append(("voltage", "V", at_s, round(volts, 3)))
            records.append(("current", "A", at_s, 0.0 if dead else 0.12))
            records.append(("mains", "/", at_s, 0.0 if dead else 1.0))
        return Pack(
            at, f"urn:dev:ops:{YARD}-{name}", f"{YARD}/{name}", tuple(records), 3600 * self.step_h
        )

    def forecast_at(self, now: datetime) -> dict[str, object]:
        """What the weather service says then, as locationforecast 2.0 documents it."""
        now_s = now.timestamp()
        said = max((one for one in self.forecasts if one.issued_s <= now_s), key=_issued)
        return {
            "properties": {
                "meta": {
                    "updated_at": datetime.fromtimestamp(said.issued_s, UTC).isoformat(),
                    "units": {"air_temperature": "celsius"},
                },
                "timeseries": [
                    {
                        "time": datetime.fromtimestamp(float(at_s), UTC).isoformat(),
                        "data": {"instant": {"details": {"air_temperature": float(air_c)}}},
                    }
                    for at_s, air_c in zip(said.at_s, said.air_c, strict=True)
                ],
            }
        }


def _issued(issue: Issue) -> float:
    return issue.issued_s


def write_yard(folder: Path, *, store: str, broker: int, mail: int) -> Path:
    """Write the yard's file and that of its craft."""
    spaces = "".join(
        f'[[spaces]]\nid = "{id_}"\nname = "{name}"\nkind = "{kind}"\n{more}\n'
        for id_, name, kind, more in _SPACES
    )
    sensors = "".join(
        f'[[sensors]]\nname = "urn:dev:ops:{YARD}-{name}"\nspace = "{space}"\n'
        for name, (space, _) in _SENSORS.items()
    ) + "".join(
        f'[[sensors]]\nname = "urn:dev:ops:{YARD}-maintainer-{craft}"\nspace = "{space}"\n'
        f'mount = "battery"\ncraft = "{craft}"\n'
        for craft, space in _MAINTAINERS.items()
    )
    file = folder / "yard.toml"
    file.write_text(
        _YARD_FILE.format(
            yard=YARD, store=store, broker=broker, mail=mail, spaces=spaces,
            sensors=sensors,
        ),
        encoding="utf-8",
    )  # fmt: skip
    (folder / "craft.toml").write_text("".join(_craft_text(*one) for one in _CRAFT))
    return file


def _craft_text(id_: str, name: str, profile: str, space: str, owner: str, laid_up: str) -> str:
    arrived, worked = START - timedelta(days=9), START - timedelta(days=5)
    text = (
        f'[[craft]]\nid = "{id_}"\nname = "{name}"\nprofile = "{profile}"\n'
        + (f'owner = "{owner}"\n' if owner else "")
        + f'arrived = {arrived.isoformat()}\n[[craft.stays]]\nplace = "{space}"\n'
    )
    if laid_up != "none":
        strength, ice = ("50%", "-28C") if laid_up == "whole" else ("20%", "-7C")
        text += _ENTRY.format(
            at=worked.isoformat(), circuits=_CIRCUITS, strength=strength, ice=ice,
            day=f"{worked:%Y-%m-%d}",
        )  # fmt: skip
    if id_ in _MAINTAINERS:
        at = (worked + timedelta(hours=3)).isoformat()
        text += f'[[craft.layup]]\nat = {at}\nby = "oda"\nact = "battery-on-maintainer"\n'
    return text + "\n"
