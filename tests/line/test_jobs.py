"""Jobs that hang or fail in a running daemon: the warning goes out, and they are told."""

import json
import threading
from datetime import UTC, datetime, timedelta

import requests

from monitor.clock import SystemClock
from monitor.commands.status_lines import watch_lines
from monitor.daemon import housework
from monitor.daemon.daemon import Daemon
from monitor.daemon.opening import open_store
from monitor.errors import StoreError
from monitor.housekeeping.ledger import Every, Job
from monitor.settings.load import load_settings
from monitor.yard.health import JobName
from tests.commands.yard_files import laidup
from tests.line.connected import is_connected
from tests.line.test_main_line import cold_nights, publish, write_yard
from tests.line.test_signs import QUICK
from tests.real.need import wait_until

PATIENCE_S = 120.0


def test_no_job_that_hangs_or_fails_holds_up_a_warning_or_another_job(
    broker, mail_server, tmp_path, monkeypatch, capsys
):
    file = write_yard(tmp_path, datetime.now(UTC), broker, mail_server, "5")
    settings = load_settings(file)
    let_go, failing, others = threading.Event(), [True], []

    def jobs(_settings, store, *_):
        def hang():
            with store.snapshot():  # with a connection in its hands
                let_go.wait(PATIENCE_S)

        def fail():
            if failing[0]:
                raise StoreError("the backup disk is not mounted")

        soon, hour = Every(span=timedelta(seconds=0.2)), timedelta(hours=1)
        yield Job(name=JobName.RECORD, when=soon, run=hang, within=timedelta(0))
        yield Job(name=JobName.ROLLUPS, when=soon, run=fail, within=hour, again_after=hour / 3600)
        yield Job(name=JobName.REPORT, when=soon, run=lambda: others.append(1), within=hour)

    monkeypatch.setenv("COLUMNS", "250")  # no name is broken
    monkeypatch.setattr(housework, "house_jobs", jobs)
    store = open_store(settings.store_url, settings.yard.id)
    daemon = Daemon(settings, store, SystemClock(), pace=QUICK, housekeeping=True)
    daemon.start()

    def told():
        return " ".join(watch_lines(settings, datetime.now(UTC)))

    try:
        wait_until(lambda: is_connected(daemon), PATIENCE_S, "the daemon to connect")
        wait_until(lambda: "does not end" in told(), PATIENCE_S, "the job that hangs to be told")
        wait_until(lambda: "is not mounted" in told(), PATIENCE_S, "the one that fails to be told")
        health = requests.get(f"{daemon.page_address}health", timeout=30).json()
        assert "is not mounted" in health["checks"]["job"]["says"]
        assert health["checks"]["job"]["remedy"]
        before = len(others)
        records = cold_nights()
        for start in range(1, len(records), 100):
            publish(broker.port, "5", json.dumps([records[0], *records[start : start + 100]]))
        wait_until(
            lambda: any("tonight" in mail.subject for mail in mail_server.messages),
            PATIENCE_S,
            "the mail",
        )
        wait_until(lambda: len(others) > before, PATIENCE_S, "another job to run meanwhile")
        assert laidup("status", "--config", str(file)) == 0
        shown = " ".join(capsys.readouterr().out.split())
        assert "Nightly check of the lay-up record" in shown
        assert "runs, for" in shown
        failing[0] = False
        wait_until(lambda: "is not mounted" not in told(), PATIENCE_S, "its end to be told")
    finally:
        let_go.set()
        daemon.stop()
    capsys.readouterr()
    assert laidup("status", "--config", str(file)) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "Weekly report" in shown, "the last runs are known without a daemon"
    assert "when laidup runs" in shown
