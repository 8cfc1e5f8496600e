"""Flags that several commands take."""

import argparse
from pathlib import Path


def add_config(parser: argparse.ArgumentParser) -> None:
    """Add ``--config``: the yard's file."""
    parser.add_argument(
        "--config",
        type=Path,
        default=Path("config/yard.toml"),
        metavar="FILE",
        help="the yard's file (default: config/yard.toml)",
    )
