#!/usr/bin/env python3
"""The lock of a yard's machine: each package in one version, each file of it by its SHA-256.

    python3 deploy/lock.py renew    resolves pyproject.toml anew into deploy/run.lock
    python3 deploy/lock.py audit    holds the lock against pyproject.toml and what is installed
    python3 deploy/lock.py wheels   asks whether a small computer (aarch64) has to build any of it

`renew` asks the index that pip is configured to ask, with its proxy and certificates; extra sources
of this machine are left out (a file built here would be in no other yard's reach), and no server's
name is written. It runs pip-tools, in a folder of its own where this Python has none, and tells
what changed; look at the difference before you keep it.

`audit` looks into the Python that it is called with, .venv/bin/python for a yard's: versions, each
installed file against the digest that its package was installed with, licences. It asks pip-audit
for known holes; the service is on the internet, and where it cannot be asked, or knows nothing of a
package, the audit says so: that is no word that there are none. Exit status 0: nothing is wrong; 1:
something is; 3: nothing is wrong as far as it could be asked.
"""

import ast
import base64
import hashlib
import importlib.util
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
SMALL = "aarch64"
# Each glibc from the oldest that wheels are made for to that of Debian 12 (2.36).
SMALL_PLATFORMS = [f"manylinux_2_{minor}_{SMALL}" for minor in range(36, 16, -1)]
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
BUILDS_EDITABLE = ("editables",)  # hatchling asks for it when laidup is installed in place
EXTRAS = ("postgres", "signature")  # as PURPOSES of bootstrap.py has them for "run"
_PINNED = re.compile(r"^([A-Za-z0-9._-]+)==(\S+)")
_WAY_TO_THE_INDEX = (
    "index-url", "cert", "client-cert", "proxy", "trusted-host", "timeout", "retries",
)  # fmt: skip
_PLAIN_LOCK = (
    "--quiet", "--no-header", "--no-annotate", "--strip-extras", "--allow-unsafe",
    "--no-emit-index-url", "--no-emit-find-links", "--no-emit-trusted-host",
    "--no-config", "--resolver=backtracking",
)  # fmt: skip
# That let a yard use, change and hand on the program, those included that ask that changes of the
# package itself stay open (MPL, LGPL).
_FREE_ENOUGH = re.compile(
    r"\b(MIT|MIT-CMU|0?BSD|Apache|PSF|Python Software Foundation|ISC|Zlib|CC0|MPL|Mozilla|LGPL"
    r"|Lesser General|Unlicense|EPL)\b"
)
_HASHES = re.compile(r"--hash=sha256:[0-9a-f]{64}")
HEADER = """\
# Every package of a yard's machine, each file by its SHA-256: deploy/bootstrap.py run installs
# nothing else. Written by deploy/lock.py renew; do not edit it.
"""


def renew(python: str | None = None) -> int:
    """Resolve anew, write the lock and tell what changed.

    Parameters
    ----------
    python : str or None
        One that has pip-tools; else one is looked for or made.
    """
    before = pins(LOCK.read_text(encoding="utf-8")) if LOCK.exists() else {}
    with tempfile.TemporaryDirectory() as folder:
        python = python or python_with("piptools", "pip-tools", Path(folder) / "tools")
        if python is None:
            sys.exit("pip-tools could not be had (the lines above say why); the lock is as it was.")
        build = Path(folder) / "build.in"
        wanted = [*project()["build-system"]["requires"], *BUILDS_EDITABLE]
        build.write_text("\n".join(wanted) + "\n", encoding="utf-8")
        found = Path(folder) / "found"
        command = [python, "-m", "piptools", "compile", "--generate-hashes"]
        command += [f"--extra={extra}" for extra in EXTRAS]
        command += [*_PLAIN_LOCK, "--cache-dir", str(Path(folder) / "cache")]
        command += ["--output-file", str(found), str(ROOT / "pyproject.toml"), str(build)]
        if subprocess.run(command, check=False, env=os.environ | one_index()).returncode != 0:
            sys.exit("The lines above say what could not be resolved; the lock is as it was.")
        fresh = LOCK.with_suffix(".new")
        fresh.write_text(HEADER + found.read_text(encoding="utf-8"), encoding="utf-8")
        fresh.replace(LOCK)
    after = pins(LOCK.read_text(encoding="utf-8"))
    for name in sorted(before.keys() | after.keys()):
        old, new = before.get(name, "not locked"), after.get(name, "locked no more")
        if old != new:
            print(f"{name}: {old} -> {new}")
    print(f"{LOCK} has {len(after)} packages.")
    return audit()


def wheels() -> int:
    """Ask the index for a ready file of every locked package, by its hash, for each Python.

    Nothing is installed, and of what is large only the metadata is fetched.
    """
    command = [sys.executable, "-m", "pip", "install", "--dry-run", "--quiet", "--no-deps"]
    command += ["--only-binary=:all:", "--require-hashes", "--requirement", str(LOCK)]
    command += ["--implementation", "cp", "--disable-pip-version-check"]
    command += [f"--platform={platform}" for platform in SMALL_PLATFORMS]
    missing = 0
    for python in PYTHONS:
        with tempfile.TemporaryDirectory() as folder:
            asked = [*command, "--python-version", python, "--target", folder]
            done = subprocess.run(
                asked, check=False, capture_output=True, text=True, env=os.environ | one_index()
            )
        if done.returncode == 0:
            print(f"Python {python}: every locked package has a ready file for {SMALL}.")
        else:
            missing += 1
            why = [line for line in done.stderr.splitlines() if line.startswith("ERROR")]
            print(f"Python {python}: {why[-1] if why else done.stderr.strip()}")
    return 1 if missing else 0


def python_with(module: str, package: str, folder: Path) -> str | None:
    """A Python that has a tool: this one, or one made in a folder; None where it cannot be had."""
    if importlib.util.find_spec(module) and importlib.util.find_spec("pip"):
        return sys.executable
    venv.create(folder, with_pip=True)
    python = str(folder / "bin" / "python")
    install = [python, "-m", "pip", "install", "-qq", "--disable-pip-version-check", package]
    return python if subprocess.run(install, check=False).returncode == 0 else None


def one_index() -> dict[str, str]:
    """What makes pip read no configuration, and yet ask the index that it is configured to ask."""
    asked = [sys.executable, "-m", "pip", "config", "list"]
    said = subprocess.run(asked, check=False, capture_output=True, text=True).stdout
    plain = {"PIP_CONFIG_FILE": os.devnull, "PIP_FIND_LINKS": "", "PIP_EXTRA_INDEX_URL": ""}
    for line in said.splitlines():
        section, _, rest = line.partition(".")
        key, _, value = rest.partition("=")
        name = f"PIP_{key.upper().replace('-', '_')}"
        # What the environment says goes before, as with pip itself, and is there anyhow.
        if section == "global" and key in _WAY_TO_THE_INDEX and name not in os.environ:
            plain[name] = ast.literal_eval(value)
    return plain


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
    for extra in EXTRAS:
        direct += wanted["project"]["optional-dependencies"][extra]
    direct += BUILDS_EDITABLE
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


def changed_files(packages: set[str], where: list[str] | None = None) -> Iterator[str]:
    """Installed files that are not what their package was installed with.

    Parameters
    ----------
    packages : set of str
        Whose files are looked at; those that are not installed are passed over.
    where : list of str or None
        Folders of installed packages; None: this Python's own.
    """
    for one in metadata.distributions(path=where or sys.path):
        if plain_name(one.name) not in packages:
            continue
        for file in one.files or ():
            if file.hash is None:
                continue  # what pip makes itself, such as bytecode
            path = Path(file.locate())
            if not path.exists():
                yield f"{one.name}: {file} is gone; install it again"
                continue
            digest = hashlib.new(file.hash.mode, path.read_bytes()).digest()
            if base64.urlsafe_b64encode(digest).decode().rstrip("=") != file.hash.value:
                yield f"{one.name}: {file} is not what was installed; find out who changed it"


def odd_licences(packages: set[str], where: list[str] | None = None) -> Iterator[str]:
    """Installed packages whose licence is not known as one that lets a yard use the program."""
    for one in metadata.distributions(path=where or sys.path):
        if plain_name(one.name) in packages:
            stated = one.metadata.get("License-Expression") or ""
            kinds = [
                kind.split("::")[-1]
                for kind in one.metadata.get_all("Classifier") or ()
                if kind.startswith("License ::")
            ]
            # The whole text may stand in License: its beginning says which it is.
            words = stated or "; ".join(kinds) or (one.metadata.get("License") or "")[:80]
            if not _FREE_ENOUGH.search(words):
                yield f"{one.name}: its licence is {words or 'not stated'}; read what it allows"


def known_holes(text: str) -> tuple[list[str], str]:
    """Holes that are known of locked packages, and why of some nothing could be learnt."""
    with tempfile.TemporaryDirectory() as folder:
        python = python_with("pip_audit", "pip-audit", Path(folder))
        if python is None:
            return [], "pip-audit could not be had"
        command = [python, "-m", "pip_audit", "--disable-pip", "--require-hashes", "--format=json"]
        command += ["--progress-spinner=off", "--requirement", str(LOCK)]
        said = subprocess.run(command, check=False, capture_output=True, text=True).stdout
    return holes_told(said, len(pins(text)))


def holes_told(said: str, count: int) -> tuple[list[str], str]:
    """What pip-audit answered for so many packages: holes, and why of some it tells nothing."""
    try:
        asked = json.loads(said)["dependencies"]
    except (ValueError, KeyError):
        return [], "the service that knows them was not reached"
    holes = [
        f"{one['name']} {one['version']}: {hole['id']}, mended in"
        f" {', '.join(hole['fix_versions']) or 'no release yet'}"
        for one in asked
        for hole in one.get("vulns", [])
    ]
    answered = sum("skip_reason" not in one for one in asked)
    if answered == 0:
        return holes, "whoever answers here for the service knows none of the packages"
    if answered < count:
        return holes, f"the service knows nothing of {count - answered} of {count} packages"
    return holes, ""


def audit() -> int:
    """Tell what is wrong with the lock; known holes too where they can be asked for."""
    text = LOCK.read_text(encoding="utf-8")
    there = {plain_name(one.name): one.version for one in metadata.distributions()}
    locked = set(pins(text))
    holes, why_not = known_holes(text)
    found = [*faults(text, project(), there), *changed_files(locked), *odd_licences(locked)]
    found += holes
    for fault in found:
        print(fault)
    if missing := locked - there.keys():
        print(f"Not installed here, so their files and licences were not looked at: "
              f"{', '.join(sorted(missing))}.")  # fmt: skip
    if why_not:
        print(f"KNOWN HOLES WERE NOT ALL ASKED FOR: {why_not}. Ask where the internet is in reach.")
    print(f"{len(locked)} packages are locked; {len(found) or 'nothing'} wrong.")
    return 1 if found else 3 if why_not else 0


if __name__ == "__main__":
    ways = {"renew": renew, "audit": audit, "wheels": wheels}
    if len(sys.argv) != 2 or sys.argv[1] not in ways:
        sys.exit(__doc__)
    sys.exit(ways[sys.argv[1]]())
