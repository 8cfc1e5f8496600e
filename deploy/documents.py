"""Makes what is read about laidup of what stands in it: manual page, site, list of licences.

    .venv/bin/python deploy/documents.py man [FILE]     laidup.1, made of the parsers
    .venv/bin/python deploy/documents.py site [FOLDER]  docs/ and docstrings as pages
    .venv/bin/python deploy/documents.py licences       each installed package and its licence

The first two need the extra docs: pip install -e '.[docs]'.
"""

import subprocess
import sys
from collections.abc import Iterator
from importlib.metadata import Distribution, distributions
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BUILD = ROOT / "build"


def write_man(file: Path) -> None:
    """Write the manual page; argparse-manpage asks the parsers."""
    file.parent.mkdir(parents=True, exist_ok=True)
    page = subprocess.run(
        [
            sys.executable, "-c", "from argparse_manpage.cli import main; main()",
            "--module", "monitor.cli", "--function", "command_parser",
            "--project-name", "laidup", "--prog", "laidup",
            "--description", "watches laid-up craft through the winter",
            "--manual-title", "laidup", "--output", str(file),
        ],
        cwd=ROOT, check=False,
    )  # fmt: skip
    if page.returncode:
        sys.exit("The manual page was not made: is laidup[docs] installed?")


def build_site(folder: Path) -> None:
    """Build the site; mkdocs reads docs/, mkdocstrings the code."""
    command = [sys.executable, "-m", "mkdocs", "build", "--quiet", "--site-dir", str(folder)]
    if subprocess.run(command, cwd=ROOT, check=False).returncode:
        sys.exit("The site was not built: is laidup[docs] installed?")


def licence_of(one: Distribution) -> str:
    """The licence that a package states: its expression, else its field, else its classifiers."""
    said = one.metadata
    if expression := said.get("License-Expression"):
        return expression
    classified = [
        line.rpartition(" :: ")[2]
        for line in said.get_all("Classifier") or []
        if line.startswith("License ::")
    ]
    field = (said.get("License") or "").strip().splitlines()
    return "; ".join(classified) or (field[0] if field else "not stated")


def licence_lines() -> Iterator[str]:
    """Each installed package with its version and licence, by name."""
    found = {str(one.metadata["Name"]).lower(): one for one in distributions()}
    for name, one in sorted(found.items()):
        yield f"{name} {one.version}: {licence_of(one)}"


def main(arguments: list[str]) -> None:
    """Do what the first word says."""
    match arguments:
        case ["man", *rest]:
            write_man(Path(rest[0]) if rest else BUILD / "laidup.1")
        case ["site", *rest]:
            build_site(Path(rest[0]).resolve() if rest else BUILD / "site")
        case ["licences"]:
            print("\n".join(licence_lines()))
        case _:
            sys.exit(__doc__)


if __name__ == "__main__":
    main(sys.argv[1:])
