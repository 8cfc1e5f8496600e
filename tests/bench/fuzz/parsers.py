"""Every parser that faces outside: its sound seeds, and what it makes of a payload.

What a parser does with a payload is to take it or to refuse it with a reason. Anything else, an
exception above all, is a fault; `tests.bench.fuzz.run` counts it.
"""

import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.delivery.channels.mail_refusals import (
    asks_to_wait,
    is_final_for_recipient,
    is_too_large,
)
from monitor.errors import ConfigurationError, ForecastError
from monitor.intake.decode import Decoder
from monitor.intake.forecast import met_norway, us_weather_service
from monitor.intake.forecast.document import parse_json
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.mapping_file import read_mapping
from monitor.intake.table import read_rows
from monitor.settings.craft_file import load_craft
from monitor.settings.load import load_settings, shipped_folder
from monitor.settings.profiles import load_profiles
from monitor.settings.work_list import read_work_list
from tests.bench.fuzz import seeds
from tests.bench.fuzz.web import AnswerDoor, RecordDoor
from tests.craft.scene import library, yard
from tests.intake import fuzz as messages

Try = Callable[[bytes], str]  # the reason of a refusal; empty: it was taken
_FORGET_AFTER = 2_000  # what a decoder learns of clocks must not decide what is found


@dataclass(frozen=True, slots=True, kw_only=True)
class Parser:
    """One parser.

    ``opened`` gives what tries a payload, with what that needs. ``share`` is how many payloads of
    two hundred thousand it gets: what costs a thousand times as much gets fewer.
    """

    name: str
    seeds: Callable[[], list[bytes]]
    opened: Callable[[], Any]  # a context manager of a Try
    share: int


def _refused(reason: object) -> str:
    said = str(reason)
    if not said.strip():
        raise AssertionError("it is refused without a reason")
    return said


@contextmanager
def _decoder(is_topic_first: bool = False) -> Iterator[Try]:
    """Payloads of messages; where so, the first line is the topic."""
    reader: list[Decoder] = [messages.decoder()]
    done = 0

    def try_one(payload: bytes) -> str:
        nonlocal done
        done += 1
        if done % _FORGET_AFTER == 0:
            reader[0] = messages.decoder()
        topic = "a/senml"
        if is_topic_first:
            line, _, payload = payload.partition(b"\n")
            topic = line.decode(errors="replace") or "x"
        message = ArrivedMessage(topic, payload, messages.ARRIVED_MS, True, 1, 1, 1)
        taken, reason = reader[0].decode_message(message)
        messages.check(taken, reason)
        if reason and len(reason) > 4_000:
            raise AssertionError(f"a reason of {len(reason)} signs")
        return reason

    yield try_one


@contextmanager
def _forecast() -> Iterator[Try]:
    def try_one(payload: bytes) -> str:
        form, _, body = payload.partition(b"\n")
        try:
            document = parse_json(body)
            if form.startswith(b"links"):
                us_weather_service.links_of(document, "https://api.weather.example")
            elif form.startswith(b"point"):
                met_norway.expected_of(document)
            else:
                us_weather_service.expected_of(document)
        except ForecastError as error:
            return _refused(error)
        return ""

    yield try_one


@contextmanager
def _mail_answer() -> Iterator[Try]:
    def try_one(payload: bytes) -> str:
        digits = bytes(byte for byte in payload[:3] if 48 <= byte <= 57)
        code, words = int(digits or b"550"), payload[3:]
        ways = (is_final_for_recipient, is_too_large, asks_to_wait)
        return "refused" if any(way(code, words) for way in ways) else ""

    yield try_one


def _of_file(suffix: str, read: Callable[[Path], object]) -> Callable[[], Any]:
    """Tries a payload as a file of that suffix; ``read`` raises ConfigurationError to refuse it."""

    @contextmanager
    def opened() -> Iterator[Try]:
        with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
            file = Path(folder) / f"it{suffix}"

            def try_one(payload: bytes) -> str:
                file.write_bytes(payload)
                try:
                    read(file)
                except ConfigurationError as error:
                    for fault in error.faults:
                        _refused(fault.problem)
                        _refused(fault.remedy)
                        if fault.file != str(file) and not fault.key:
                            raise AssertionError(f"{fault}: of no file and no key") from error
                    return _refused(error)
                return ""

            yield try_one

    return opened


def _read_work(file: Path) -> None:
    now = datetime(2026, 11, 14, 16, tzinfo=yard().zone)
    names = {"tom": "Tom Varga", "ines": "Ines Aldaz"}
    _, faults = read_work_list(file, now, names, {}, craft_names={"k1": "Teal", "k2": "Kite"})
    if faults:
        raise ConfigurationError(faults)


def _read_readings(file: Path) -> None:
    for row in read_rows(file):
        if row.reason:
            _refused(row.reason)


_SECRETS = {"LAIDUP_TEXTS": "frost"}


def _read_yard(file: Path) -> None:
    file.with_name("broker.password").write_text("frost")
    file.with_name("mail.password").write_text("frost")
    load_settings(file, _SECRETS)


def _read_profile(file: Path) -> None:
    load_profiles([shipped_folder() / "profiles", file.parent])


def parsers() -> list[Parser]:
    """All of them."""
    work, craft = yard(), library()
    return [
        Parser(name="senml-json", seeds=seeds.senml_json, opened=_decoder, share=60_000),
        Parser(name="senml-cbor", seeds=seeds.senml_cbor, opened=_decoder, share=50_000),
        Parser(
            name="mapped", seeds=seeds.mapped, opened=lambda: _decoder(is_topic_first=True),
            share=30_000,
        ),
        Parser(name="forecast", seeds=seeds.forecasts, opened=_forecast, share=16_000),
        Parser(name="mail-answer", seeds=seeds.mail_answers, opened=_mail_answer, share=12_000),
        Parser(name="answer-link", seeds=AnswerDoor.seeds, opened=AnswerDoor, share=6_000),
        Parser(name="record-api", seeds=RecordDoor.seeds, opened=RecordDoor, share=6_000),
        Parser(
            name="readings-csv", seeds=seeds.readings, opened=_of_file(".csv", _read_readings),
            share=6_000,
        ),
        Parser(
            name="craft-csv", seeds=seeds.craft_lists,
            opened=_of_file(".csv", lambda file: load_craft(file, work, craft)), share=4_000,
        ),
        Parser(
            name="craft-toml", seeds=seeds.craft_files,
            opened=_of_file(".toml", lambda file: load_craft(file, work, craft)), share=2_000,
        ),
        Parser(
            name="work-csv", seeds=seeds.work_lists, opened=_of_file(".csv", _read_work),
            share=4_000,
        ),
        Parser(
            name="work-toml", seeds=seeds.work_files, opened=_of_file(".toml", _read_work),
            share=1_000,
        ),
        Parser(
            name="yard-toml", seeds=seeds.yards,
            opened=_of_file(".toml", _read_yard), share=1_000,
        ),
        Parser(
            name="profile-toml", seeds=seeds.profiles, opened=_of_file(".toml", _read_profile),
            share=1_000,
        ),
        Parser(
            name="mapping-toml", seeds=seeds.mappings, opened=_of_file(".toml", read_mapping),
            share=1_000,
        ),
    ]  # fmt: skip
