"""What do the labels of a whole yard cost? `python -m tests.bench.labels [--write]`.

Writes so many labels, one a page, and as many pages of the same library with one line of text on
each, the floor; each in a process of its own, processor time and largest memory as ratios to the
floor's. ``--write`` puts the page into LABELS.md beside this file.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from monitor.craft.label_figures import gather_label
from monitor.phrases.label import label_words
from monitor.sheets.label import Label
from monitor.sheets.label_pages import write_labels
from monitor.sheets.paper import Paper, paper_size
from monitor.sheets.qr import code_content
from monitor.sheets.typeface import load_typeface
from monitor.wording import Units, Wording
from tests.craft.scene import EVE, SHELTERS, ZONE, twelve
from tests.real.page import load_in_words, page

FILE = Path(__file__).with_name("LABELS.md")
HEADING = """# Labels of a whole yard

Written by `python -m tests.bench.labels --write`."""
COUNT = 2000
WORDS = Wording(zone=ZONE, units=Units(), now=EVE)
ADDRESS = "https://watch.kettlemoss.example"


def write_floor(path: Path, count: int) -> None:
    """Pages of the same size with a line of text each."""
    canvas = Canvas(str(path), pagesize=paper_size(Paper.LABEL), pageCompression=1)
    for number in range(count):
        canvas.drawString(20, 20, f"craft {number}")
        canvas.showPage()
    canvas.save()


def write_all(path: Path, count: int) -> None:
    """Labels of so many craft, each with a name and a code of its own."""
    kinds = list(twelve().values())
    labels = []
    for number in range(count):
        one = kinds[number % len(kinds)]
        craft = replace(one.craft, id=f"c{number}", name=f"{one.craft.name} {number}")
        told = gather_label(replace(one, craft=craft), SHELTERS, EVE, -20.0, WORDS)
        code = code_content(ADDRESS, craft.id)
        labels.append(Label(words=label_words(told, WORDS), code=code, foot="An aid to judgement."))
    write_labels(path, labels, Paper.LABEL, load_typeface(), "Labels")


WAYS = {"floor": write_floor, "labels": write_all}


def measure(way: str, count: int) -> dict[str, float]:
    """Processor time [s] and largest memory [MB] of one way, in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.labels", "--only", way, "--count", str(count)]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return json.loads(said)


def run_one(way: str, count: int) -> None:
    """Write one way's file, and print what it took."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "pages.pdf"
        began = time.process_time()
        WAYS[way](path, count)
        took_s = time.process_time() - began
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(json.dumps({"s": took_s, "mb": peak_mb, "kb": path.stat().st_size / 1024}))


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=COUNT)
    parser.add_argument("--only", choices=WAYS)
    parser.add_argument("--write", action="store_true")
    arguments = parser.parse_args()
    if arguments.only:
        run_one(arguments.only, arguments.count)
        return 0
    floor, labels = (measure(way, arguments.count) for way in WAYS)
    lines = [
        load_in_words(),
        "",
        "| labels | time to that of pages with a line | memory to theirs | file, kB a label |",
        "|---|---|---|---|",
        f"| {arguments.count} | {labels['s'] / floor['s']:.0f} | {labels['mb'] / floor['mb']:.1f}"
        f" | {labels['kb'] / arguments.count:.1f} |",
    ]
    page(FILE if arguments.write else None, HEADING, lines)
    return 0


if __name__ == "__main__":
    sys.exit(main())
