"""A running daemon fetches the forecast that the yard's file asks for, and judges with it."""

import json
from datetime import UTC, datetime, timedelta

from monitor.clock import SystemClock
from monitor.commands.status import forecast_line
from monitor.daemon.daemon import Daemon
from monitor.daemon.opening import open_store
from monitor.daemon.pace import Schedule
from monitor.phrases.figures import figures_of
from monitor.settings.load import load_settings
from monitor.yard.readers import words_for
from tests.commands.yard_files import copied_yard, fill
from tests.real.need import wait_until


def series(now):
    """A point series as locationforecast 2.0 documents it: every hour from this one on."""
    hour = now.replace(minute=0, second=0, microsecond=0)
    return {
        "properties": {
            "meta": {
                "updated_at": hour.isoformat(),
                "units": {"air_temperature": "celsius"},
            },
            "timeseries": [
                {
                    "time": (hour + timedelta(hours=n)).isoformat(),
                    "data": {"instant": {"details": {"air_temperature": -9.5}}},
                }
                for n in range(60)
            ],
        }
    }


def test_the_daemon_fetches_judges_with_it_and_asks_no_more_than_once(tmp_path, broker, httpserver):
    now = datetime.now(UTC)
    httpserver.expect_request("/compact").respond_with_data(
        json.dumps(series(now)), headers={"cache-control": "max-age=3600"}
    )
    config = copied_yard(tmp_path)
    with config.open("a") as file:
        file.write('[forecast]\nsource = "met-norway"\ncontact = "watch@kettlemoss.example"\n')
        file.write(f'url = "{httpserver.url_for("").rstrip("/")}"\n')
    text = config.read_text().replace("[broker]", f"[broker]\nport = {broker.port}", 1)
    config.write_text(text.replace("[folder]", "[web]\nenabled = false\n\n[folder]", 1))
    fill(config)
    settings = load_settings(config)
    store = open_store(settings.store_url, settings.yard.id)
    quick = Schedule(round_every_s=0.3, round_gap_s=0.1)
    daemon = Daemon(settings, store, SystemClock(), pace=quick, housekeeping=True)
    daemon.start()
    try:

        def share():
            with store.snapshot() as tx:
                return [
                    figures_of(each).get("public_share", 0.0)
                    for each in tx.assessments.latest_judgements()
                ]

        wait_until(lambda: any(share()), 30.0, "a judgement with the public forecast in it")
        with store.snapshot() as tx:
            asking = tx.forecasts.asking_of("met-norway")
        wording = words_for(settings.yard, now)
        assert "up to date just now." in forecast_line(asking, wording, datetime.now(UTC))
    finally:
        daemon.stop()
    assert len(httpserver.log) == 1
