"""What is exported says all that is on record, for any entry and any alarm that there may be."""

import csv
import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.commands.export import _write_csv
from monitor.craft.layup import (
    Act,
    Evidence,
    LayupEntry,
    Liquid,
    OilAppearance,
    Outflow,
    Product,
)
from monitor.reports.export_rows import ALARM_COLUMNS, RECORD_COLUMNS, alarm_row, entry_row
from monitor.settings.work_list import read_work_list
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.alarm import Alarm, AlarmState, Priority
from monitor.yard.alarm_facts import HeadlineFacts
from monitor.yard.assessment import Certainty, Severity, Urgency
from tests.commands.yard_files import copied_yard, laidup
from tests.craft.scene import library

NOW = datetime(2026, 11, 14, 22, tzinfo=UTC)
CIRCUITS = library()["pwc-two-stroke"].circuit_ids
WORDS = st.text(st.sampled_from("aZ0 ,;:\"'|=#%&<>/\\-+()\t\nß“”🛥\u20ac"), min_size=1, max_size=24)
LINE = WORDS.map(lambda text: " ".join(text.split())).filter(bool)
FILE = st.from_regex(r"[a-z][a-z0-9_./-]{0,14}\.jpg", fullmatch=True)
ID = st.from_regex(r"[a-z][a-z0-9-]{0,14}", fullmatch=True)
MOMENT = st.integers(0, 74 * 86_400).map(
    lambda s: datetime(2026, 9, 1, tzinfo=UTC) + timedelta(seconds=s)
)
ZONE = st.sampled_from([UTC, timezone(timedelta(hours=-6)), timezone(timedelta(hours=5.75))])


def amounts(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


PRODUCT = st.builds(
    Product,
    name=LINE,
    liquid=st.sampled_from([Liquid.PROPYLENE, Liquid.ETHYLENE]),
    strength=st.none() | amounts(0.01, 0.6).map(lambda share: round(share, 9)),
    label_burst_c=st.none() | amounts(-70.0, -20.0),
    lot=st.just("") | LINE,
)
EVIDENCE = st.builds(
    Evidence,
    outflow=st.sampled_from(Outflow),
    dry=st.none() | st.booleans(),
    ice_point_c=st.none() | amounts(-59.0, -1.0),
    scale=st.sampled_from([None, Liquid.PROPYLENE, Liquid.ETHYLENE]),
    engine_hot=st.none() | st.booleans(),
    oil=st.none() | st.sampled_from(OilAppearance),
    photos=st.lists(FILE, max_size=2, unique=True).map(tuple),
    photo_sha256=st.lists(
        st.from_regex(r"[0-9a-f]{64}", fullmatch=True), max_size=2, unique=True
    ).map(tuple),
    witness=st.sampled_from(["", "tom"]),  # another of whom the yard has heard
)
ENTRY = st.builds(
    LayupEntry,
    id=ID,
    craft=st.just("k1"),
    at=st.builds(lambda at, zone: at.replace(tzinfo=zone), MOMENT, ZONE),
    by=st.just("ines"),
    act=st.sampled_from([Act.DRAINED, Act.ANTIFREEZE_POURED, Act.ANTIFREEZE_RUN_THROUGH]),
    circuits=st.lists(st.sampled_from(CIRCUITS), max_size=3, unique=True).map(tuple),
    product=st.none() | PRODUCT,
    quantity_l=st.none() | amounts(0.1, 19.0),
    residual_l=st.none() | amounts(0.0, 4.0),
    evidence=EVIDENCE,
    settles=st.lists(ID, max_size=2, unique=True).map(tuple),
    note=st.just("") | WORDS.map(str.strip).filter(bool),
    replaces=st.just("") | ID,
)


@settings(deadline=None, max_examples=80)
@given(entries=st.lists(ENTRY, min_size=1, max_size=4, unique_by=lambda one: one.id))
def test_any_entry_comes_back_from_the_table_that_it_is_written_to(tmp_path_factory, entries):
    file = tmp_path_factory.mktemp("record") / "record.csv"
    with file.open("w", encoding="utf-8", newline="") as out:
        _write_csv(map(entry_row, entries), RECORD_COLUMNS, out)
    steps, faults = read_work_list(
        file, NOW, {"ines": "Ines Aldaz", "tom": "Tom Varga"}, {}, craft_names={"k1": "Teal"},
        profiles={"k1": library()["pwc-two-stroke"]},
    )  # fmt: skip
    assert faults == []
    back = [step.form.to_layup_entry(step.craft, UTC) for step in steps]
    # A text is read without the spaces around it, which nobody sees; all else to the last digit.
    assert [without_rounding(one) for one in back] == [without_rounding(one) for one in entries]


def without_rounding(entry: LayupEntry) -> LayupEntry:
    """A strength is written in percent; to twelve digits it is the same."""
    if entry.product is None or entry.product.strength is None:
        return entry
    return replace(
        entry, product=replace(entry.product, strength=round(entry.product.strength, 11))
    )


ALARM = st.builds(
    Alarm,
    id=st.uuids().map(str),
    cause=st.sampled_from(["frost", "damp", "silence", "file-refused"]),
    space=ID,
    craft=st.just("") | ID,
    part=st.just("") | WORDS,
    state=st.sampled_from([AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED,
                           AlarmState.RETURNED, AlarmState.SHELVED]),
    priority=st.sampled_from(Priority),
    raised_at=MOMENT,
    changed_at=MOMENT,
    urgency=st.sampled_from(Urgency),
    severity=st.sampled_from(Severity),
    certainty=st.sampled_from(Certainty),
    headline=st.just(HeadlineFacts(subject="the north row")),
    deadline=st.none() | MOMENT,
)  # fmt: skip


def read_alarm(row: dict[str, str]) -> dict[str, object]:
    """A row as a reader with nothing but the guide's table of columns takes it."""
    times = {
        key: datetime.fromisoformat(row[key]) if row[key] else None
        for key in ("raised_at", "changed_at", "deadline")
    }
    return {**row, **times}


@settings(deadline=None)
@given(alarms=st.lists(ALARM, max_size=5))
def test_any_alarm_is_one_row_that_says_all_of_it(alarms):
    out = io.StringIO()
    assert _write_csv(map(alarm_row, alarms), ALARM_COLUMNS, out) == len(alarms)
    out.seek(0)
    rows = list(csv.DictReader(out))
    assert len(rows) == len(alarms)
    for alarm, row in zip(alarms, map(read_alarm, rows), strict=True):
        # Words of ISA-18.2 and CAP 1.2 as their enumerations write them, times to the second.
        assert row == {key: getattr(alarm, key) for key in ALARM_COLUMNS}


@pytest.fixture
def three_nights(tmp_path) -> tuple[Path, list[Alarm]]:
    """A yard with an alarm raised at noon of each of three days."""
    from monitor.settings.load import load_settings

    config = copied_yard(tmp_path)
    loaded = load_settings(config)
    migrate(loaded.store_url)
    noon = datetime(2026, 11, 12, 18, tzinfo=UTC)  # of the yard, which is 6 h behind
    alarms = [
        Alarm(
            id=f"alarm-{day}", cause="silence", space="long-shed", craft="",
            part="post 3, lake side",
            state=AlarmState.UNACKNOWLEDGED, priority=Priority.HIGH,
            raised_at=noon + timedelta(days=day), changed_at=noon + timedelta(days=day, hours=1),
            urgency=Urgency.EXPECTED, severity=Severity.SEVERE, certainty=Certainty.OBSERVED,
            headline=HeadlineFacts(subject="the long shed"),
        )
        for day in range(3)
    ]  # fmt: skip
    store = Store(loaded.store_url, loaded.yard.id)
    with store.transaction() as tx:
        tx.alarms.put(alarms)
    store.close()
    return config, alarms


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_alarms_of_a_stretch_are_exported_in_both_forms(three_nights, tmp_path, form, capsys):
    config, alarms = three_nights
    file = tmp_path / f"alarms.{form}"
    # From the noon of the second alarm on, to the noon of the third, which is left out.
    span = ["--from", "2026-11-13T12:00", "--to", "2026-11-14T12:00"]
    assert laidup("export", "alarms", *span, "--out", str(file), "--config", str(config)) == 0
    assert "1 alarm." in capsys.readouterr().err
    if form == "csv":
        rows = list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8"))))
    else:
        import pyarrow.parquet

        rows = pyarrow.parquet.read_table(file).to_pylist()
    assert rows == [
        {
            "id": "alarm-1", "cause": "silence", "space": "long-shed", "craft": "",
            "part": "post 3, lake side", "state": "unacknowledged", "priority": "high",
            "urgency": "Expected", "severity": "Severe", "certainty": "Observed",
            "raised_at": "2026-11-13T18:00:00Z", "changed_at": "2026-11-13T19:00:00Z",
            "deadline": "",
        }
    ]  # fmt: skip
    assert laidup("export", "alarms", "--config", str(config)) == 0
    assert capsys.readouterr().out.count("alarm-") == len(alarms)
