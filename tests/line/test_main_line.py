"""The main job, whole: packs that mosquitto_pub sends become one mail that names the craft."""

import json
import math
import re
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.real.mail_server import MailServer
from tests.real.need import need, wait_until

SENSOR = "urn:dev:ops:mill-shed-corner"
AFTERNOON = 15  # the yard's hour in these tests, whatever the machine's clock says


def hours_east(now: datetime) -> int:
    """How far east of Greenwich it is about three in the afternoon now."""
    return (AFTERNOON - now.hour + 12) % 24 - 12


def yard_zone(now: datetime) -> str:
    """The zone there (POSIX signs: -N is east)."""
    return f"Etc/GMT{-hours_east(now):+d}"


def write_yard(folder: Path, now: datetime, broker, mail_server: MailServer, version: str) -> Path:
    file = folder / "yard.toml"
    file.write_text(
        f"""
[yard]
id = "mill"
name = "Mill Yard"
timezone = "{yard_zone(now)}"
latitude = 45.0
longitude = {15.0 * hours_east(now)}
craft_files = ["craft.toml"]

[broker]
port = {broker.port}
version = "{version}"

[mail]
host = "{mail_server.host}"
port = {mail_server.port}
security = "none"
sender = "watch@mill.example"

[web]
port = 0
access = "open"

[[spaces]]
id = "shed"
name = "Long Shed"
kind = "cold"
berths = ["1", "2"]

[[sensors]]
name = "{SENSOR}"
space = "shed"

[[people]]
id = "ines"
name = "Ines Aldaz"
mail = "ines@mill.example"
roles = ["operator"]
""",
        encoding="utf-8",
    )
    arrived = (now - timedelta(hours=3)).isoformat()
    run = (now - timedelta(hours=2)).isoformat()
    (folder / "craft.toml").write_text(
        f"""
[[craft]]
id = "teal"
name = "Teal"
profile = "outboard"
arrived = {arrived}
[[craft.stays]]
place = "shed/1"

[[craft]]
id = "plover"
name = "Plover"
profile = "pwc-two-stroke"
arrived = {arrived}
[[craft.stays]]
place = "shed/2"
[[craft.layup]]
at = {run}
by = "Tom Varga"
act = "antifreeze-poured"
circuits = ["cylinder-passages"]
product = {{ name = "pink", liquid = "propylene", strength = "30%" }}
quantity = "14 fl oz"
outflow = "none"
""",
        encoding="utf-8",
    )
    return file


def cold_nights() -> list[dict[str, object]]:
    """Three days of an indoor sensor, in relative times: -6 °C at each dawn, +4 at three."""
    records: list[dict[str, object]] = [{"bn": f"{SENSOR}:"}]
    for minutes in range(3 * 24 * 60, -1, -30):
        hours_from_three = minutes / 60
        swing = (1 + math.cos(2 * math.pi * hours_from_three / 24)) / 2
        t = -minutes * 60
        records.append({"n": "temperature", "u": "Cel", "t": t, "v": round(-6 + 10 * swing, 2)})
        records.append({"n": "humidity", "u": "%RH", "t": t, "v": round(88 - 20 * swing, 2)})
    return records


def publish(port: int, version: str, payload: str) -> None:
    subprocess.run(
        [need("mosquitto_pub", "mosquitto-clients"), "-h", "127.0.0.1", "-p", str(port), "-q", "1",
         "-V", {"5": "mqttv5", "3.1.1": "mqttv311"}[version], "-t", "mill/corner", "-s"],
        input=payload.encode(), check=True, timeout=30,
    )  # fmt: skip


@pytest.fixture(params=["mosquitto", "embedded"])
def any_broker(request):
    """A real mosquitto, and the demo's own broker: both carry the same line."""
    if request.param == "mosquitto":
        return request.getfixturevalue("broker"), "5"
    return request.getfixturevalue("embedded_broker"), "3.1.1"


def test_a_cold_night_becomes_one_mail_that_names_the_craft(any_broker, mail_server, tmp_path):
    broker, version = any_broker
    now = datetime.now(UTC)
    yard = write_yard(tmp_path, now, broker, mail_server, version)
    log = tmp_path / "log"
    with log.open("w") as out:
        daemon = subprocess.Popen(
            [sys.executable, "-m", "monitor", "run", "--config", str(yard)], stderr=out
        )
    try:
        wait_until(lambda: "Connected" in log.read_text(), 30, "the daemon to connect")
        records = cold_nights()
        for start in range(1, len(records), 100):
            pack = [records[0], *records[start : start + 100]]
            publish(broker.port, version, json.dumps(pack))
        mails = mail_server.wait_for(1, timeout=40)
        time.sleep(8)  # two more rounds: a second mail about the same night would show by now
        assert len(mails) == 1
        body = mails[0].text()
        assert "Plover" in body
        assert "Teal" in body
        # The middle low of the night, between the dawns' -6 °C and warmer by the hour of the test.
        assert re.search("−[1-6]", body)
        assert "not a life-safety device" in body
    finally:
        daemon.send_signal(signal.SIGTERM)
        status = daemon.wait(timeout=30)
    assert status == 0, log.read_text()
    assert "no longer watched" in log.read_text()
