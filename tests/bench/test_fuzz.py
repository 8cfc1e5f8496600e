"""A share of the corpus of spoiled payloads, and that its bench can find what is wrong."""

import subprocess
import sys
import time
from contextlib import contextmanager
from hashlib import sha256

import pytest

from monitor.intake.batch import Writer
from monitor.intake.inbox import ArrivedMessage, Inbox
from monitor.store.migrate import migrate
from monitor.store.store import Store
from tests.bench.fuzz import run
from tests.bench.fuzz.parsers import Parser, parsers
from tests.bench.fuzz.run import fault_lines, payload_of, strain
from tests.intake import fuzz as messages
from tests.real.need import wait_until

SHARE = 0.004  # the nightly command tries all


@pytest.mark.parametrize("parser", parsers(), ids=lambda one: one.name)
def test_spoiled_payloads_are_taken_or_refused_with_a_reason(parser):
    found = strain(parser, range(max(round(SHARE * parser.share), 10)))
    assert found.is_well, "\n".join(fault_lines(found))


# Payloads that brought a parser down until it was mended, beside the tests of its room.
ONCE_CRASHED = [
    ("forecast", b'links\n{"properties": {"forecastGridData": "https://[h/a",'
     b' "forecastHourly": "https://h/b"}}'),
    ("craft-csv", b"id,name,profile,arrived,place\nk1,Te\ral,outboard,2026-10-24,lee-rack\n"),
    ("craft-csv", b"id,name,profile,arrived,place\nk1,Teal,outboard,24 Oct " + b"9" * 20
     + b",lee-rack\n"),
    ("craft-csv", "id,name,profile,arrived,place\nk1,Teal,outboard,² Oct 2026,lee-rack".encode()),
    ("craft-csv", b'id,name,profile,arrived,place\nk1,"' + b"x" * 200_000 + b'",outboard,,\n'),
    ("answer-link", b"GET /nowhere?\x91=1\nHost: a\n\n"),
    ("answer-link", b"GET /static/laidup.css\nHost: a\n\n" + b"x" * 100_000),
    ("record-api", b"PUT /api/craft/k2/layup?\xf5\nHost: a\n\n"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "payload"), ONCE_CRASHED)
def test_what_once_crashed_is_taken_or_refused(name, payload):
    (parser,) = (one for one in parsers() if one.name == name)
    with parser.opened() as try_one:
        assert isinstance(try_one(payload), str)


def test_the_corpus_is_of_200_000_and_the_same_in_every_process():
    assert sum(one.share for one in parsers()) == 200_000
    told = (
        "from hashlib import sha256; from tests.bench.fuzz.parsers import parsers;"
        "from tests.bench.fuzz.run import payload_of; print(sha256(b''.join(payload_of(one, n)"
        " for one in parsers() for n in range(20))).hexdigest())"
    )
    here = b"".join(payload_of(one, n) for one in parsers() for n in range(20))
    there = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", told], capture_output=True, text=True, check=True
    )
    assert there.stdout.strip() == sha256(here).hexdigest()


SOUND_ALL = {
    "forecast", "readings-csv", "craft-csv", "craft-toml", "work-csv", "work-toml", "yard-toml",
    "profile-toml", "mapping-toml", "record-api",
}  # fmt: skip


@pytest.mark.parametrize("parser", parsers(), ids=lambda one: one.name)
def test_the_seeds_are_sound(parser):
    with parser.opened() as try_one:
        reasons = [try_one(one) for one in parser.seeds()]
    if parser.name in SOUND_ALL:
        assert set(reasons) == {""}
    else:
        assert "" in reasons


def _parser_that(does):
    @contextmanager
    def opened():
        yield does

    return Parser(name="mine", seeds=lambda: [b"a sound one"], opened=opened, share=1)


def test_a_parser_that_crashes_takes_long_or_takes_memory_is_found(monkeypatch):
    def crash(payload):
        if payload != b"a sound one":
            raise IndexError("fell")
        return ""

    found = strain(_parser_that(crash), range(20))
    assert not found.is_well
    assert any("IndexError: fell" in line for line in fault_lines(found))
    hungry = strain(_parser_that(lambda _payload: "no" * len(bytearray(100 * 2**20))), range(1))
    assert not hungry.is_well

    def work(payload):
        end_s = time.thread_time() + 0.2
        while payload != b"a sound one" and time.thread_time() < end_s:
            pass
        return ""

    monkeypatch.setattr(run, "SLOWEST_S", 0.1)
    assert not strain(_parser_that(work), range(1, 2)).is_well


def test_no_spoiled_message_is_lost_between_broker_and_store(tmp_path):
    url = f"sqlite:///{tmp_path}/laidup.db"
    migrate(url)
    store, inbox, acknowledged = Store(url, "drill"), Inbox(5_000), []
    writer = Writer(store, messages.decoder(), inbox, acknowledged.extend, lambda _batch: None)
    senml, cbor, mapped = parsers()[:3]
    sent = []
    for n in range(1_500):
        parser = (senml, cbor, mapped)[n % 3]
        topic, payload = "a/senml", payload_of(parser, n)
        if parser is mapped:
            line, _, payload = payload.partition(b"\n")
            topic = line.decode(errors="replace").replace("\0", "") or "x"  # MQTT lets none through
        sent.append(ArrivedMessage(topic, payload, messages.ARRIVED_MS, True, 1, n + 1, 1))
        inbox.put_message(sent[-1])
    writer.start()
    inbox.wake_if_any()
    wait_until(lambda: len(acknowledged) == len(sent), 60, "all to be dealt with")
    writer.stop(5)
    assert [one.packet_id for one in acknowledged] == list(range(1, len(sent) + 1))
    with store.snapshot() as tx:
        aside = {(row.topic, row.payload) for row in tx.aside.newest_by_topic(10_000)}
        reasons = {row.reason for row in tx.aside.newest_by_topic(10_000)}
    assert all(reasons)
    alone = messages.decoder()
    refused = [one for one in sent if alone.decode_message(one)[1]]
    assert len(refused) > 500
    # Of a flood of what nobody can read, the beginnings are kept.
    kept = [
        any((one.topic, one.payload[:cut]) in aside for cut in (None, 256, 512, 1024, 4096))
        for one in refused
    ]
    assert kept.count(False) == 0
    store.close()
