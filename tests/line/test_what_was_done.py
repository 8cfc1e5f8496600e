"""What a person did is believed at once: by letters, page and links, and told to the others."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import requests

from monitor.alarms.round import AlarmRound
from monitor.cli import main
from monitor.clock import ReadingsClock, to_ms
from monitor.craft.profile import Chemistry
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.craft.stored import Battery, BatteryPlace
from monitor.daemon import daemon as wiring
from monitor.daemon.daemon import Daemon
from monitor.judgement.round import Round
from monitor.settings.load import load_settings
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.alarm import ACTIVE, Topic
from monitor.yard.reading import Channel, Flag
from tests.alarms.scene import FOUR, craft, yard
from tests.line.connected import is_connected
from tests.line.test_main_line import cold_nights, publish, write_yard
from tests.line.test_signs import QUICK
from tests.real.need import wait_until

SECOND = """
[[people]]
id = "sam"
name = "Sam Lorne"
mail = "sam@mill.example"
roles = ["operator"]
"""


OIL = ("oil-changed", "--oil", "clear")


def link_in(mail):
    [link] = re.findall(r"https://watch\.mill\.example/(answer/\S+)", mail.text())
    return link


def test_who_has_it_is_told_to_the_others_and_nobody_is_asked_for_what_is_done(
    broker, mail_server, tmp_path, capsys
):
    now = datetime.now(UTC)
    file = write_yard(tmp_path, now, broker, mail_server, "5")
    text = file.read_text().replace(
        "port = 0\n", 'port = 0\naddress = "https://watch.mill.example"\n'
    )
    file.write_text(text + SECOND)
    settings = load_settings(file)
    store = wiring.open_store(settings.store_url, settings.yard.id)
    daemon = Daemon(settings, store, wiring.SystemClock(), pace=QUICK)
    daemon.start()

    def mails_to(person):
        # On a Monday the weekly report comes too, and is no word of what stands.
        return [
            mail
            for mail in mail_server.messages
            if f"{person}@mill.example" in mail.recipients and not mail.subject.startswith("Week ")
        ]

    def exposed():
        with store.snapshot() as tx:
            found = [each for each in tx.alarms.open_alarms() if each.state in ACTIVE]
        return {each.part for each in found if each.craft == "teal" and each.cause == "frost"}

    def enter(act, *more):
        at = ["--at", datetime.now(UTC).isoformat(timespec="seconds"), "--by", "Sam Lorne"]
        done = ["layup", "add", "teal", "--act", act, *more, *at, "--config", str(file)]
        assert main(done) == 0

    try:
        wait_until(lambda: is_connected(daemon), 20, "the daemon to connect")
        records = cold_nights()
        for start in range(1, len(records), 100):
            publish(broker.port, "5", json.dumps([records[0], *records[start : start + 100]]))
        wait_until(lambda: mails_to("ines") and mails_to("sam"), 40, "a letter to each")
        hers, his = (link_in(mails_to(person)[0]) for person in ("ines", "sam"))
        assert "Teal" in requests.get(f"{daemon.page_address}{his}", timeout=10).text

        # Others are told that somebody acts.
        assert requests.post(f"{daemon.page_address}{hers}", timeout=10).status_code == 200
        wait_until(lambda: len(mails_to("sam")) > 1, 20, "the word of who has it")
        assert mails_to("sam")[1].subject.startswith("Ines Aldaz has taken on ")
        assert "Teal" in mails_to("sam")[1].subject

        # A craft made safe is in no list of what is still to save, and no link asks for it.
        parts = exposed()
        assert parts
        # An outboard's powerhead empties itself upright, and its gearcase holds oil.
        enter("stood", "--posture", "upright")
        for part in sorted((parts | {"propeller-hub"}) - {"powerhead"}):
            act, *seen = OIL if part == "gearcase" else ("drained", "--dry", "yes")
            enter(act, *seen, "--circuit", part)
        wait_until(lambda: not exposed(), 30, f"Teal to be safe: {capsys.readouterr().out}")
        page = requests.get(daemon.page_address, timeout=10).text
        to_do, _, rest = page.partition("Safe again: ")
        assert "Teal" not in to_do[to_do.index('id="todo"') :]
        assert "by Sam Lorne" in rest[:200]
        assert "Teal" not in requests.get(f"{daemon.page_address}{his}", timeout=10).text
        assert len(mails_to("ines")) == 1
    finally:
        daemon.stop()


def cold_battery():
    """Flat, in a craft that holds no water and came today, in a shed that goes to 14 below."""
    boat = craft("K1", "Teal", "shed")
    dry = {
        name: Protection(
            circuit=name, state=LayupState.PROVEN, ice_point_c=-np.inf, burst_point_c=-np.inf,
            basis=Basis.DRAINED, why="drained and seen dry",
        )
        for name in boat.protection
    }  # fmt: skip
    battery = Battery(
        chemistry=Chemistry.FLOODED, capacity_ah=18.0, lag_low_h=1.0, lag_high_h=2.0,
        place=BatteryPlace.ABOARD, space="shed", maintained=False, rested_v=11.9,
        rested_at=FOUR - timedelta(hours=3), since=FOUR - timedelta(hours=3),
    )  # fmt: skip
    return replace(boat, protection=dry, battery=battery)


@pytest.mark.parametrize("carried", [True, False])
def test_a_battery_carried_into_the_warm_is_no_news_and_one_left_in_the_cold_is(tmp_path, carried):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    the_yard, clock = yard(), ReadingsClock(FOUR)
    store = Store(url, the_yard.id)
    judgement, alarms = Round(store, the_yard, clock), AlarmRound(store, the_yard, clock)
    boat = cold_battery()
    try:
        with store.transaction() as tx:
            # The shed's sensor goes on, to -14 °C at six each morning and -4 at six in the evening;
            # the barn's, where it is 18 °C, has not come for an hour.
            for name, middle_c, swing_c, ends in (
                ("shed-corner", -9.0, 5.0, 150), ("barn-corner", 18.0, 0.0, -60),
            ):  # fmt: skip
                (series,) = tx.series.series_ids([(name, Channel.TEMPERATURE)]).values()
                at_min = np.arange(-3 * 24 * 60, ends, 5)
                air_c = middle_c + swing_c * np.cos(2 * np.pi * (at_min / 60.0 - 2.0) / 24.0)
                tx.reading_writer.append_rows(
                    [
                        (
                            series,
                            to_ms(FOUR + timedelta(minutes=minutes)),
                            round(value / Channel.TEMPERATURE.resolution),
                            None,
                            int(Flag.PASS),
                        )
                        for minutes, value in zip(at_min.tolist(), air_c.tolist(), strict=True)
                    ]
                )
        for minutes in range(0, 120, 3):
            clock.advance_to(FOUR + timedelta(minutes=minutes))
            if carried and minutes == 9:
                warm = replace(boat.battery, space="barn", place=BatteryPlace.BENCH,
                               since=clock.now(), came_from="shed")  # fmt: skip
                boat = replace(boat, battery=warm)
            judgement.run([boat])
            alarms.run({boat.id: boat})
        with store.snapshot() as tx:
            told = [
                each for each, _ in tx.outbox.newest_messages(50)
                if each.thread.startswith(str(Topic.BATTERY))
            ]  # fmt: skip
        assert bool(told) is not carried
    finally:
        store.close()
