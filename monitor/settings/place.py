"""Where a yard's files are, as a person says it: the folder, or the file in it."""

from pathlib import Path

CONFIG_VARIABLE = "LAIDUP_CONFIG"  # names the yard's folder where no flag does
YARD_FILE = "yard.toml"


def yard_file_in(place: str | Path) -> Path:
    """The yard's file that a person means by its folder, or by itself."""
    path = Path(place)
    return path / YARD_FILE if path.is_dir() else path
