"""How long the command line takes to answer, as ratios to what bare Python takes.

``python -m tests.bench.start`` prints the table; each time is the least of several, for a busy
machine only ever adds.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
BARE = [sys.executable, "-c", "pass"]
BARE_ARGPARSE = [
    sys.executable,
    "-c",
    "import argparse; argparse.ArgumentParser(prog='x').parse_args(['--help'])",
]
CRAFT = 2_000


def least_time(line: list[str], tries: int, folder: Path = ROOT) -> float:
    """Least wall time of a program over some tries [s]."""
    took = []
    for _ in range(tries):
        begun = time.perf_counter()
        done = subprocess.run(line, cwd=folder, capture_output=True, check=False)
        took.append(time.perf_counter() - begun)
        if done.returncode:
            raise SystemExit(f"{line}: {done.stderr.decode()}")
    return min(took)


def laidup(*words: str) -> list[str]:
    """The line that runs one command."""
    return [sys.executable, "-m", "monitor", *words]


def make_yard_of(craft: int, folder: Path) -> Path:
    """The demo's yard with so many more craft on record, each with its work."""
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
    return config


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tries", type=int, default=7)
    parser.add_argument("--craft", type=int, default=CRAFT)
    arguments = parser.parse_args()
    bare = least_time(BARE, arguments.tries)
    floor = least_time(BARE_ARGPARSE, arguments.tries)
    print(f"python -c pass {bare * 1000:.0f} ms; with argparse {floor * 1000:.0f} ms")
    for words in (["--help"], ["layup", "add", "--help"], ["calc", "--help"]):
        took = least_time(laidup(*words), arguments.tries)
        print(f"laidup {' '.join(words):<22} {took / floor:5.1f} x argparse")
    with tempfile.TemporaryDirectory() as folder:
        config = str(make_yard_of(arguments.craft, Path(folder)))
        for words in (["layup", "list", "c0007"], ["layup", "protection", "c0007"]):
            took = least_time(laidup(*words, "--config", config), arguments.tries)
            print(
                f"laidup {' '.join(words):<28} {took / bare:5.1f} x pass, {arguments.craft} craft"
            )


if __name__ == "__main__":
    main()
