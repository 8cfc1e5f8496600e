"""Reads a printed page as a person and a telephone do: its text, its picture, its codes."""

import subprocess
from pathlib import Path

import zxingcpp
from PIL import Image

from tests.real.need import need

LABEL_PRINTER_DPI = 203  # common of them; of a sheet's printer 300 and more


def text_of(file: Path, *, as_drawn: bool = False) -> str:
    """All text, spaces as one each, in reading order as poppler sees it, or in that of drawing."""
    command = [need("pdftotext", "poppler-utils"), *(["-raw"] if as_drawn else []), file, "-"]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return " ".join(said.split())


def pages_of(file: Path) -> list[tuple[float, float]]:
    """Width and height of each page [mm]."""
    command = [need("pdfinfo", "poppler-utils"), "-f", "1", "-l", "-1", file]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    sizes = [
        line.split() for line in said.splitlines() if line.startswith("Page ") and "size" in line
    ]
    return [(float(one[3]) / 72 * 25.4, float(one[5]) / 72 * 25.4) for one in sizes]


def pictures_of(file: Path, folder: Path, dpi: int = LABEL_PRINTER_DPI) -> list[Image.Image]:
    """Each page as a printer of that fineness puts it on paper, in black and white."""
    stem = folder / f"page-{dpi}"
    command = [need("pdftoppm", "poppler-utils"), "-r", str(dpi), "-mono", file, stem]
    subprocess.run(command, check=True, capture_output=True)
    return [Image.open(one).convert("L") for one in sorted(folder.glob(f"{stem.name}*.pbm"))]


def codes_of(picture: Image.Image) -> list[str]:
    """What each QR code on a picture says."""
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    return sorted(one.text for one in found)
