"""What does a hard-winter test cost? Its processor time over that of replaying the same winter.

``python -m tests.bench.prove`` fills the yard of `tests.bench.replay` (40 spaces, 2,000 craft with
the records of the demo's twelve), stands it through the Denver winter, and replays two stretches of
its readings in steps of an hour, the cheapest there are. What a further day of replay costs, times
the winter's days, is the floor: readings of a whole winter would take an hour to write. With
``--write`` the page goes into PROVE.md beside this file. Only ratios are to be compared.
"""

import argparse
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

from monitor.intake.weather_file import read_weather_file
from monitor.intake.winter_weather import lay_over_winter
from monitor.prove import prove_winter
from monitor.settings.load import load_settings, shipped_folder
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.yard.hard_winter import standard_zone, winter_ahead
from tests.bench.replay import UNTIL, craft_of, fill, replayed, yard_of
from tests.bench.winters.places import DENVER
from tests.real.page import load_in_words, page

FILE = Path(__file__).with_name("PROVE.md")
HEADING = """# What a hard-winter test costs

Written by `python -m tests.bench.prove --write`."""
AIM = 1.5


def proofs(chosen: argparse.Namespace) -> Iterator[str]:
    demo = load_settings(shipped_folder() / "demo" / "yard.toml")
    yield f"{chosen.spaces} spaces. {load_in_words()}"
    yield ""
    yield f"| craft | days | in danger | to a replay of as many days (aim {AIM}) | grows by, MB |"
    yield "|---|---|---|---|---|"
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'yard.db'}"
        migrate(url)
        yard = yard_of(demo, chosen.spaces)
        store = Store(url, "filled")
        fill(store, yard)
        rows = read_weather_file(DENVER, standard_zone(yard))
        begin, _ = winter_ahead(UNTIL, yard, UNTIL)
        weather = lay_over_winter(rows, yard, begin, begin + timedelta(days=chosen.days))
        for count in chosen.craft:
            with store.transaction() as tx:
                take_in(tx.layup, craft_of(demo, yard, count), demo.profiles, UNTIL)
            before, start = peak_mb(), time.process_time()
            found = prove_winter(store, yard, demo.profiles, weather, UNTIL)
            proved_s, grown_mb = time.process_time() - start, peak_mb() - before
            hour = timedelta(hours=1)
            short, long = (
                replayed(store, yard, demo, hour, UNTIL - timedelta(days=days)).seconds
                for days in (0.5, 2.0)
            )
            floor_s = short + (long - short) / 1.5 * (chosen.days - 0.5)
            danger = sum(bool(one.in_danger) for one in found.craft)
            yield (
                f"| {count:,} | {chosen.days:g} | {danger:,} | {proved_s / floor_s:.3f} |"
                f" {grown_mb:.0f} |"
            )
        store.close()


def peak_mb() -> float:
    """The most memory that this process had so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--craft", type=int, nargs="+", default=[20, 2000])
    parser.add_argument("--spaces", type=int, default=40)
    parser.add_argument("--days", type=float, default=150.0)
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    chosen = parser.parse_args()
    page(FILE if chosen.write else None, HEADING, proofs(chosen))
    return 0


if __name__ == "__main__":
    sys.exit(main())
