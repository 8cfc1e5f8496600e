import json
from datetime import UTC, datetime, timedelta

import pytest

from monitor.store.store import Store
from monitor.yard.forecast import SaidNight
from tests.commands.yard_files import copied_yard, fill, laidup


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    config = copied_yard(tmp_path_factory.mktemp("yard"))
    return config, fill(config)


def skill(yard, *more):
    return laidup("skill", "--config", str(yard[0]), *more)


def keep(settings, nights):
    now = datetime.now(UTC)
    today = now.astimezone(settings.yard.zone).date()
    store = Store(settings.store_url, settings.yard.id)
    with store.transaction() as tx:
        tx.said_nights.add(
            SaidNight(
                space="lee-rack",
                evening=today - timedelta(days=n),
                said_at=now - timedelta(days=n),
                air_c=5.0,
                cold_c=-3.0,
                expected_c=-1.0,
                warm_c=1.0,
                below_zero=0.7,
                low_c=-2.0 if n % 3 else 0.5,
            )
            # Of the night that goes on the round has kept what it said itself.
            for n in range(2, nights + 2)
        )
    store.close()


def test_a_new_yard_says_that_it_is_not_known_yet(yard, capsys):
    assert skill(yard) == 0
    assert capsys.readouterr().out.startswith("Not known yet")
    assert skill(yard, "--json") == 0
    assert json.loads(capsys.readouterr().out) is None


def test_said_against_happened_is_told_to_people_and_to_machines(yard, capsys):
    keep(yard[1], 40)
    assert skill(yard) == 0
    told = capsys.readouterr().out
    assert "35 nights" in told
    assert "70 to 80 %" in told
    assert skill(yard, "--json") == 0
    found = json.loads(capsys.readouterr().out)
    (tenth,) = found["below_zero"]["reliability"]
    assert (tenth["nights"], tenth["said"]) == (35, 0.7)
    assert tenth["happened"] == pytest.approx(2 / 3, abs=0.02)
    assert found["low"]["inside_range"] == 1.0


def test_a_stretch_of_no_days_is_refused(yard, capsys):
    assert skill(yard, "--days", "0") == 2
    assert "--days 0" in capsys.readouterr().err
