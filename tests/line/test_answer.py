"""The whole way back: a mail's link, pressed, quiets the lamp; and the daily word comes."""

import json
import re
from datetime import UTC, datetime

import requests

from monitor.daemon import daemon as wiring
from monitor.daemon.daemon import Daemon
from monitor.settings.load import load_settings
from monitor.yard.alarm import AlarmState
from tests.line.connected import is_connected
from tests.line.test_main_line import cold_nights, publish, write_yard
from tests.line.test_signs import QUICK, Lamp
from tests.real.need import wait_until


def test_the_link_in_a_mail_acknowledges_through_the_running_daemon(broker, mail_server, tmp_path):
    now = datetime.now(UTC)
    file = write_yard(tmp_path, now, broker, mail_server, "5")
    text = file.read_text().replace(
        "port = 0\n", 'port = 0\naddress = "https://watch.mill.example"\n'
    )
    file.write_text(text + 'all_well_at = "15:00"\n[annunciator]\ntopic = "mill/lamp"\n')
    settings = load_settings(file)
    here = now.astimezone(settings.yard.zone)
    file.write_text(file.read_text().replace('"15:00"', f'"{here:%H:%M}"'))
    settings = load_settings(file)
    store = wiring.open_store(settings.store_url, settings.yard.id)
    daemon = Daemon(settings, store, wiring.SystemClock(), pace=QUICK)
    daemon.start()
    lamp = Lamp(broker, "mill/lamp/state")
    try:
        wait_until(lambda: is_connected(daemon), 20, "the daemon to connect")
        records = cold_nights()
        for start in range(1, len(records), 100):
            publish(broker.port, "5", json.dumps([records[0], *records[start : start + 100]]))
        wait_until(
            lambda: any("tonight" in mail.subject for mail in mail_server.messages), 40, "the mail"
        )
        wait_until(lambda: lamp.shows.endswith("-asks"), 20, "the lamp to ask")
        wait_until(
            lambda: any("Watching Mill Yard" in mail.subject for mail in mail_server.messages),
            20,
            "the daily word",
        )
        mail = next(mail for mail in mail_server.messages if "tonight" in mail.subject)
        [link] = re.findall(r"https://watch\.mill\.example/(answer/\S+)", mail.text())
        assert requests.get(f"{daemon.page_address}{link}", timeout=10).status_code == 200
        assert lamp.shows.endswith("-asks")
        assert requests.post(f"{daemon.page_address}{link}", timeout=10).status_code == 200
        with store.snapshot() as tx:
            states = {alarm.state for alarm in tx.alarms.open_alarms() if alarm.cause == "frost"}
        assert states == {AlarmState.ACKNOWLEDGED}
        wait_until(lambda: not lamp.shows.endswith("-asks"), 20, "the lamp to ask no more")
    finally:
        daemon.stop()
        lamp.close()
