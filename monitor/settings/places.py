"""Where the shipped profiles, mappings and the demo yard are: in a checkout, or installed."""

from pathlib import Path


def shipped_folder() -> Path:
    """Folder of the configuration that comes with laidup."""
    package = Path(__file__).resolve().parents[1]
    installed = package / "config"
    return installed if installed.is_dir() else package.parent / "config"
