"""How long the command line takes to answer, as ratios to what bare Python takes.

``python -m tests.bench.start`` prints the table: processor time, the least of several, for a busy
machine only ever adds. All run with their bytecode kept, as an installed laidup has it; beside the
questions stands what the two libraries alone cost that every one of them needs.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

ROOT = Path(__file__).parents[2]
BARE = [sys.executable, "-c", "pass"]
BARE_ARGPARSE = [
    sys.executable,
    "-c",
    "import argparse; argparse.ArgumentParser(prog='x').parse_args(['--help'])",
]
LIBRARIES = "import sqlalchemy, pydantic.main"
CRAFT = 2_000


def least_time(line: list[str], tries: int, bytecode: Path) -> float:
    """Least processor time of a program over some tries [s], after one that writes its bytecode."""
    shell = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    took = []
    for _ in range(tries + 1):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run(
            line, cwd=ROOT, capture_output=True, check=False,
            env=shell | {"PYTHONPYCACHEPREFIX": str(bytecode)},
        )  # fmt: skip
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        took.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        if done.returncode:
            raise SystemExit(f"{line}: {done.stderr.decode()}")
    return min(took[1:])


def laidup(*words: str) -> list[str]:
    """The line that runs one command."""
    return [sys.executable, "-m", "monitor", *words]


def make_yard_of(craft: int, folder: Path) -> Path:
    """The demo's yard with so many more craft on record, after a start of its daemon."""
    from monitor.clock import SystemClock
    from monitor.daemon.opening import take_in_craft
    from monitor.settings.load import load_settings
    from monitor.store.store import Store
    from tests.commands.yard_files import copied_yard, fill

    config = copied_yard(folder)
    rows = ["id,name,profile,arrived,place", *(
        f"c{number:04},Bench {number},pwc-four-stroke,2026-10-01,long-shed"
        for number in range(craft)
    )]  # fmt: skip
    fill(config)
    listed = folder / "more.csv"
    listed.write_text("\n".join(rows) + "\n", encoding="utf-8")
    done = subprocess.run(
        laidup("import", "craft", str(listed), "--config", str(config)),
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        raise SystemExit(done.stderr)
    settings = load_settings(config)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        take_in_craft(settings, store, SystemClock())
    return config


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tries", type=int, default=7)
    parser.add_argument("--craft", type=int, default=CRAFT)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        measure(Path(folder), arguments.tries, arguments.craft)


def measure(folder: Path, tries: int, craft: int) -> None:
    """Measure and print each line."""
    bytecode = folder / "bytecode"
    bare = least_time(BARE, tries, bytecode)
    floor = least_time(BARE_ARGPARSE, tries, bytecode)
    print(f"python -c pass {bare * 1000:.0f} ms; with argparse {floor * 1000:.0f} ms")
    for words in (["--help"], ["layup", "add", "--help"], ["calc", "--help"]):
        took = least_time(laidup(*words), tries, bytecode)
        print(f"laidup {' '.join(words):<28} {took / floor:5.1f} x argparse")
    took = least_time([sys.executable, "-c", LIBRARIES], tries, bytecode)
    print(f"{LIBRARIES:<35} {took / bare:5.1f} x pass")
    (folder / "yard").mkdir()
    config = str(make_yard_of(craft, folder / "yard"))
    for words in (["list", "c0007"], ["protection", "c0007"], ["protection", "k1"]):
        took = least_time(laidup("layup", *words, "--config", config), tries, bytecode)
        print(f"laidup layup {' '.join(words):<22} {took / bare:5.1f} x pass, {craft} craft")


if __name__ == "__main__":
    main()
