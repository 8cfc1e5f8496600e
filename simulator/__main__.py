"""``python -m simulator``: play a yard to a broker, or write its readings and truth to files."""

# ruff: noqa: T201 -- this is a command; it speaks to its caller.

import argparse
import signal
import sys
import threading
from datetime import datetime, timedelta
from pathlib import Path

from simulator import kettlemoss, winter
from simulator.publish import Publisher, write_csv
from simulator.scenario import Scenario
from simulator.truth import write_truth
from simulator.weather import from_hourly_file


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m simulator",
        description="A simulated yard: sends its sensors' readings, keeps what really happened.",
    )
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument("--broker", metavar="HOST:PORT", help="send over MQTT, QoS 1")
    where.add_argument("--csv", type=Path, metavar="FILE", help="write readings as CSV instead")
    parser.add_argument("--truth", type=Path, metavar="FILE", help="write the truth as JSON")
    parser.add_argument(
        "--scenario", choices=["kettlemoss", "winter"], default="kettlemoss",
        help="the demo's four days, or a whole winter of a random yard",
    )  # fmt: skip
    parser.add_argument("--seed", type=int, default=14, help="of weather, yard and noise")
    parser.add_argument("--craft", type=int, default=40, help="how many, in a winter")
    parser.add_argument(
        "--records", type=Path, metavar="FILE",
        help="winter: write the yard and its craft as the shop's records have them",
    )  # fmt: skip
    parser.add_argument(
        "--weather", type=Path, metavar="FILE",
        help="winter: an hourly typical-year table (month, day, hour_ending, t_c, td_c) instead"
        " of made-up weather",
    )  # fmt: skip
    parser.add_argument(
        "--utc-offset", type=float, default=0.0, metavar="H",
        help="standard time of that table, hours east of UTC",
    )  # fmt: skip
    parser.add_argument(
        "--speed", type=float, metavar="N",
        help="N seconds of the story a second; without it, as fast as the broker confirms",
    )  # fmt: skip
    parser.add_argument("--protocol", choices=["5", "3.1.1"], default="5", help="of MQTT")
    parser.add_argument("--username", help="of the broker")
    parser.add_argument("--password-file", type=Path, help="file that holds the password alone")
    parser.add_argument("--ca", type=Path, help="authority file; speaks TLS")
    parser.add_argument("--client-id", default="laidup-simulator")
    return parser


def _broker(text: str) -> tuple[str, int]:
    host, colon, port = text.rpartition(":")
    if not colon or not port.isdigit():
        raise SystemExit(f"--broker {text!r}: write it as host:port, like 127.0.0.1:1883")
    return host.strip("[]"), int(port)


def _scenario(chosen: argparse.Namespace) -> Scenario:
    if chosen.scenario == "kettlemoss":
        return kettlemoss.scenario(chosen.seed)
    made = winter.make(chosen.seed, craft=chosen.craft)
    if chosen.weather is not None:
        try:
            weather = from_hourly_file(
                chosen.weather, made.start, made.end + timedelta(days=1), chosen.utc_offset
            )
        except (OSError, ValueError) as error:
            raise SystemExit(f"--weather: {error}") from error
        made = winter.make(chosen.seed, craft=chosen.craft, weather=weather)
    if chosen.records is not None:
        winter.write_records(made, chosen.records)
    return winter.scenario(made)


def main(arguments: list[str] | None = None) -> int:
    """Run the simulator; returns the exit status."""
    chosen = _arguments().parse_args(arguments)
    if chosen.speed is not None and not chosen.speed > 0:
        raise SystemExit(f"--speed {chosen.speed}: must be above 0")
    scenario = _scenario(chosen)
    if chosen.csv is not None:
        count = write_csv(scenario, chosen.csv)
        print(f"{count} readings written to {chosen.csv}")
    else:
        _play(scenario, chosen)
    if chosen.truth is not None:
        write_truth(scenario.truth(), chosen.truth)
        print(f"truth written to {chosen.truth}")
    return 0


def _play(scenario: Scenario, chosen: argparse.Namespace) -> None:
    host, port = _broker(chosen.broker)
    stop = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stop.set())
    password = chosen.password_file.read_text().strip() if chosen.password_file else None
    told_day = ""

    def tell(at: datetime) -> None:
        nonlocal told_day
        if f"{at:%d %B}" != told_day:
            told_day = f"{at:%d %B}"
            print(f"now {at:%d %B %Y %H:%M} UTC in the story", flush=True)

    try:
        with Publisher(
            host, port, chosen.client_id, username=chosen.username, password=password,
            ca_file=chosen.ca, protocol=chosen.protocol,
        ) as publisher:  # fmt: skip
            sent = publisher.play(scenario, chosen.speed, stop, tell)
            print(f"{sent} messages sent, {publisher.repeated} repeated after reconnects")
    except ConnectionError as error:
        print(f"cannot play: {error}", file=sys.stderr)
        raise SystemExit(1) from error


if __name__ == "__main__":
    sys.exit(main())
