"""The manual page has every command; each installed package has a line with its licence."""

import re
import subprocess
import sys
from importlib.metadata import distribution
from pathlib import Path

from monitor.cli import COMMANDS

ROOT = Path(__file__).parents[2]


def documents(*words: str) -> str:
    done = subprocess.run(
        [sys.executable, "deploy/documents.py", *words],
        cwd=ROOT, text=True, capture_output=True, check=True,
    )  # fmt: skip
    return done.stdout


def test_the_manual_page_has_each_command_with_its_flags(tmp_path):
    file = tmp_path / "laidup.1"
    documents("man", str(file))
    page = file.read_text(encoding="utf-8").replace("\\-", "-")
    assert page.startswith(".TH LAIDUP")
    plain = re.sub(r"\\f.|\\,|\\/", "", page)  # roff's changes of font
    assert [name for name in COMMANDS if f"laidup {name}" not in plain] == []
    assert "--log-level" in page


def test_each_package_has_a_licence_line():
    lines = dict(line.split(": ", 1) for line in documents("licences").splitlines())
    numpy = distribution("numpy")
    assert "BSD" in lines[f"numpy {numpy.version}"]  # numpy.org: a liberal BSD licence
    assert lines["laidup 0.1.0"] == "MIT"
