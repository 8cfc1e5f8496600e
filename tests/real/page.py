"""A page of measured figures: printed as it comes, and kept beside its command if asked."""
# ruff: noqa: T201

import os
from collections.abc import Iterable
from pathlib import Path


def page(file: Path | None, heading: str, lines: Iterable[str]) -> None:
    """Print a heading and lines; write them into a file in the end."""
    told = [heading + "\n"]
    for line in lines:
        print(line, flush=True)
        told.append(line)
    if file is not None:
        file.write_text("\n".join(told) + "\n", encoding="utf-8")


def load_in_words() -> str:
    """How busy the machine is: figures of time mean little without it."""
    return (
        f"The machine has {os.cpu_count()} processors; over the minute before,"
        f" {os.getloadavg()[0]:.1f} processes wanted one."
    )
