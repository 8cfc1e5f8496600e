"""What does a craft's page cost, beside an empty page of the framework, in yards of any size?

``python -m tests.bench.detail_pages`` plays the demo's evening, multiplies its craft, has all of
them judged in this process, and asks one craft's page, one space's and an empty page in turn;
processor time, the best of a few runs, as a ratio. ``--write`` puts the page into DETAIL_PAGES.md.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from fastapi.testclient import TestClient

from monitor.store.taking_in import take_in
from monitor.web.app import create_app
from tests.real.page import load_in_words, page
from tests.web.played_night import PlayedNight, play_night

FILE = Path(__file__).with_name("DETAIL_PAGES.md")
HEADING = """# Pages of one craft and one space

Written by `python -m tests.bench.detail_pages --write`."""
SIZES = (12, 120, 600)
RUNS = 7
PATHS = (
    "/favicon.ico",
    "/craft/k8",
    "/spaces/long-shed",
    "/api/craft/k8/assess",
    "/api/spaces/long-shed/assess",
    "/api/craft/k8/layup",
    "/api/series",
)
PAGES = 3  # of them; what follows is the API's


def grow(played: PlayedNight, count: int) -> None:
    """Take in copies of the demo's craft until there are so many, and judge them all."""
    records = []
    for n in range(count // 12 - 1):
        for one in played.settings.craft:
            craft = replace(one.craft, id=f"{one.craft.id}-{n}", hull_number="")
            records.append(
                replace(
                    one,
                    craft=craft,
                    stays=tuple(replace(each, craft=craft.id) for each in one.stays),
                    entries=tuple(replace(each, craft=craft.id) for each in one.entries),
                )
            )
    with played.store.transaction() as tx:
        take_in(tx.layup, records, played.settings.profiles, played.clock.now())
    played.judge_now()


def cost_of_pages(played: PlayedNight) -> tuple[list[float], list[int]]:
    """Processor time of each path and of an empty page before them [s], and bytes unpacked."""
    app = create_app(
        played.store, played.settings.yard, played.clock, played.craft.read_now,
        profiles=played.settings.profiles,
    )  # fmt: skip
    best, size = [np.inf] * len(PATHS), [0] * len(PATHS)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        for _ in range(RUNS):
            for n, path in enumerate(PATHS):
                start = time.process_time()
                answer = client.get(path)
                best[n] = min(best[n], time.process_time() - start)
                assert answer.status_code == 200, path
                size[n] = len(answer.content)
    return best, size


def measured() -> Iterator[str]:
    """A row for each size of yard."""
    yield "The floor is the smallest file that is served, `/favicon.ico`, in the same run."
    yield ""
    yield "| craft | floor ms | craft page ms | of the floor | kB | space page ms | of the floor |"
    yield "| --- | --- | --- | --- | --- | --- | --- |"
    of_api: list[list[str]] = []
    for count in SIZES:
        with tempfile.TemporaryDirectory() as folder:
            played = play_night(Path(folder))
            if count > 12:
                grow(played, count)
            (floor, craft, space, *answers), (_, size, *_) = cost_of_pages(played)
            played.store.close()
        yield (
            f"| {count} | {floor * 1e3:.1f} | {craft * 1e3:.1f} | {craft / floor:.1f} |"
            f" {size / 1e3:.0f} | {space * 1e3:.1f} | {space / floor:.1f} |"
        )
        of_api.append([str(count), *(f"{one / floor:.1f}" for one in answers)])
    yield ""
    yield "Answers of the API, as so many times the same floor."
    yield ""
    yield f"| craft | {' | '.join(f'`{path}`' for path in PATHS[PAGES:])} |"
    yield "| --- " * (len(PATHS) - PAGES + 1) + "|"
    for row in of_api:
        yield f"| {' | '.join(row)} |"
    yield ""
    yield load_in_words()


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true")
    page(FILE if parser.parse_args().write else None, HEADING, measured())
    return 0


if __name__ == "__main__":
    sys.exit(main())
