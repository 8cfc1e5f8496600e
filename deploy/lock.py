#!/usr/bin/env python3
"""The lock of a yard's machine: each package in one version, each file of it by its SHA-256.

    python3 deploy/lock.py renew    resolves pyproject.toml anew into deploy/run.lock
    python3 deploy/lock.py audit    holds the lock against pyproject.toml and what is installed

`renew` asks wherever pip is configured to take packages, extra sources of this machine left out (a
file built here would be in no other yard's reach), and writes no server's name. It runs pip-tools
in a folder of its own; look at the difference before you keep it. `audit` looks into the Python
that it is called with, .venv/bin/python for a yard's; it asks pip-audit for known holes, and says
of how many packages its service knew nothing. Exit status 0: nothing is wrong; 1: something is.
"""

import json
import os
import re
import subprocess
import sys
import tempfile
import tomllib
import venv
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / "deploy" / "run.lock"
BUILDS_EDITABLE = ("editables",)  # hatchling asks for it when laidup is installed in place
EXTRA = "postgres"  # as PURPOSES of bootstrap.py has it for "run"
_PINNED = re.compile(r"^([A-Za-z0-9._-]+)==(\S+)")
_HASHES = re.compile(r"--hash=sha256:[0-9a-f]{64}")
HEADER = """\
# Every package of a yard's machine, each file by its SHA-256: deploy/bootstrap.py run installs
# nothing else. Written by deploy/lock.py renew; do not edit it.
"""


def renew() -> int:
    """Resolve anew and write the lock."""
    with tempfile.TemporaryDirectory() as folder:
        tools = Path(folder) / "tools"
        venv.create(tools, with_pip=True)
        python = str(tools / "bin" / "python")
        subprocess.run([python, "-m", "pip", "install", "--quiet", "pip-tools"], check=True)
        build = Path(folder) / "build.in"
        wanted = [*project()["build-system"]["requires"], *BUILDS_EDITABLE]
        build.write_text("\n".join(wanted) + "\n", encoding="utf-8")
        found = Path(folder) / "found"
        plain = {"PIP_CONFIG_FILE": os.devnull, "PIP_FIND_LINKS": "", "PIP_EXTRA_INDEX_URL": ""}
        quiet = ["--quiet", "--no-header", "--no-annotate", "--strip-extras", "--allow-unsafe"]
        nameless = ["--no-emit-index-url", "--no-emit-find-links", "--no-emit-trusted-host"]
        command = [python, "-m", "piptools", "compile", "--generate-hashes", "--extra", EXTRA]
        command += [*quiet, *nameless, "--output-file", str(found)]
        command += [str(ROOT / "pyproject.toml"), str(build)]
        subprocess.run(command, check=True, env=os.environ | plain | index_of_pip())
        LOCK.write_text(HEADER + found.read_text(encoding="utf-8"), encoding="utf-8")
    print(f"{LOCK} has {len(pins(LOCK.read_text(encoding='utf-8')))} packages.")
    return audit()


def index_of_pip() -> dict[str, str]:
    """The index that pip is configured to ask, for a pip that reads no configuration."""
    asked = [sys.executable, "-m", "pip", "config", "get", "global.index-url"]
    said = subprocess.run(asked, check=False, capture_output=True, text=True)
    index = os.environ.get("PIP_INDEX_URL") or said.stdout.strip()
    return {"PIP_INDEX_URL": index} if index else {}


def project() -> dict:
    """What pyproject.toml says."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def pins(text: str) -> dict[str, str]:
    """Version by package, as the lock has them."""
    found = (_PINNED.match(line) for line in text.splitlines())
    return {plain_name(match[1]): match[2].rstrip("\\ ") for match in found if match}


def plain_name(name: str) -> str:
    """A package's name as all tools compare it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def faults(text: str, wanted: dict, installed: dict[str, str]) -> Iterator[str]:
    """What is wrong with a lock.

    Parameters
    ----------
    text : str
        The lock.
    wanted : dict
        What pyproject.toml says.
    installed : dict of str
        Versions by package, of what is there; packages that are not there are no fault.
    """
    locked = pins(text)
    for block in re.split(r"(?m)^(?=[A-Za-z0-9])", text):
        match = _PINNED.match(block)
        if match and not _HASHES.search(block):
            yield f"{match[1]}: it has no hash"
    if "://" in text or re.search(r"(?m)^\s*-(?!-hash)", text):
        yield "it names a server or an option: packages come from wherever pip is configured"
    direct = [*wanted["project"]["dependencies"], *wanted["build-system"]["requires"]]
    direct += [*wanted["project"]["optional-dependencies"][EXTRA], *BUILDS_EDITABLE]
    for requirement in direct:
        name = plain_name(re.split(r"[\[<>=!~; ]", requirement)[0])
        bounds = re.sub(r"^[A-Za-z0-9._-]+(\[[^\]]*\])?", "", requirement).split(";")[0]
        if name not in locked:
            yield f"{name}: pyproject.toml asks for it, and the lock has it not"
            continue
        for sign, bound in re.findall(r"(>=|<)\s*([0-9][0-9.]*)", bounds):
            is_less = number(locked[name]) < number(bound)
            if is_less == (sign == ">="):
                yield f"{name} {locked[name]}: pyproject.toml asks for {sign}{bound}"
    for name, version in sorted(locked.items()):
        if name in installed and installed[name] != version:
            yield f"{name}: {installed[name]} is installed, the lock has {version}"


def number(version: str) -> tuple[int, ...]:
    """A release's numbers, to be compared."""
    return tuple(int(part) for part in re.match(r"[0-9.]*", version)[0].strip(".").split("."))


def known_holes() -> tuple[list[str], str]:
    """Holes that are known of locked packages, and why of some nothing could be learnt."""
    with tempfile.TemporaryDirectory() as folder:
        venv.create(folder, with_pip=True)
        python = str(Path(folder) / "bin" / "python")
        install = [python, "-m", "pip", "install", "--quiet", "pip-audit"]
        if subprocess.run(install, check=False).returncode != 0:
            return [], "pip-audit could not be had"
        command = [python, "-m", "pip_audit", "--disable-pip", "--require-hashes", "--format=json"]
        command += ["--progress-spinner=off", "--requirement", str(LOCK)]
        said = subprocess.run(command, check=False, capture_output=True, text=True).stdout
    try:
        asked = json.loads(said)["dependencies"]
    except (ValueError, KeyError):
        return [], "no service that knows them was reached"
    unknown = [one["name"] for one in asked if "skip_reason" in one]
    holes = [
        f"{one['name']} {one['version']}: {hole['id']}, mended in"
        f" {', '.join(hole['fix_versions']) or 'no release yet'}"
        for one in asked
        for hole in one.get("vulns", [])
    ]
    why = f"the service knows nothing of {len(unknown)} of {len(asked)} packages" if unknown else ""
    return holes, why


def audit() -> int:
    """Tell what is wrong with the lock; known holes too where they can be asked for."""
    text = LOCK.read_text(encoding="utf-8")
    there = {plain_name(one.name): one.version for one in metadata.distributions()}
    holes, why_not = known_holes()
    found = [*faults(text, project(), there), *holes]
    for fault in found:
        print(fault)
    if why_not:
        print(f"Known holes were not all asked for: {why_not}.")
    print(f"{len(pins(text))} packages are locked; {len(found) or 'nothing'} wrong.")
    return 1 if found else 0


if __name__ == "__main__":
    ways = {"renew": renew, "audit": audit}
    if len(sys.argv) != 2 or sys.argv[1] not in ways:
        sys.exit(__doc__)
    sys.exit(ways[sys.argv[1]]())
