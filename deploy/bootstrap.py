#!/usr/bin/env python3
"""Makes .venv from a bare Python, installs laidup into it and, for the demo, starts that.

    python3 deploy/bootstrap.py demo [ARGUMENTS OF laidup demo]
    python3 deploy/bootstrap.py run      what a yard's own machine needs, PostgreSQL included: the
                                         packages of run.lock, each file by its hash
    python3 deploy/bootstrap.py run-unlocked    the same in what versions there are, where a file of
                                         the lock cannot be had
    python3 deploy/bootstrap.py test     what the tests need

Only the standard library is used. Packages come from wherever pip is configured to take them
(pip.conf, PIP_INDEX_URL and their kin, proxies, certificates); nothing here names a server.
Running it again is quick: what stands already for the same pyproject.toml is left alone.
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import threading
from pathlib import Path

if sys.version_info < (3, 11):  # noqa: UP036 - this file meets whatever python3 there is
    sys.exit(
        "laidup needs Python 3.11 or newer, and this is %d.%d (%s).\n"  # noqa: UP031
        "Debian 12 and newer have it as python3; elsewhere call this file with a newer one,\n"
        "such as: python3.12 deploy/bootstrap.py demo" % (*sys.version_info[:2], sys.executable)
    )

if sys.maxsize < 2**32:
    sys.exit(
        "laidup needs a 64-bit system: for this 32-bit Python some of its packages have no files.\n"
        "Most boards with a 64-bit processor run a 64-bit Debian: 'uname -m' then says aarch64."
    )

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / "deploy" / "run.lock"
VENV = ROOT / ".venv"
PYTHON = VENV / "bin" / "python"

# Each purpose: the extras it installs, and the purposes that are then served as well.
PURPOSES = {
    "demo": ("demo", ["demo"]),
    "run": ("postgres,signature", ["run"]),
    "run-unlocked": ("postgres,signature", ["run-unlocked"]),
    "test": ("test", ["demo", "run", "test"]),
}


def run_or_leave(command: list[str], remedy: str) -> None:
    """Run a command, showing only its errors; when it fails, say so with the remedy and end."""
    finished = subprocess.run(command, cwd=ROOT, check=False, stdout=subprocess.DEVNULL)
    if finished.returncode != 0:
        sys.exit(f"\nThis failed: {' '.join(command)}\n{remedy}")


def count_installed(done: threading.Event) -> None:
    """Say every few seconds how many packages stand in .venv, for pip is silent meanwhile."""
    while not done.wait(5.0):
        there = len(list(VENV.glob("lib/python*/site-packages/*.dist-info")))
        print(f"  {there} packages are installed.", flush=True)


def run_with_progress(command: list[str], remedy: str) -> None:
    """Run pip and count the packages as it comes to them; when it fails, say so and end."""
    found = set()
    done = threading.Event()
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as pip:
        for line in pip.stdout or ():
            verb, _, rest = line.strip().partition(" ")
            if verb == "Collecting" and rest:
                found.add(rest.split(" ")[0])
                print(f"  package {len(found)}: {rest.split(' ')[0]}", flush=True)
            elif line.startswith("Installing collected packages"):
                print("  All are here; installing them.", flush=True)
                threading.Thread(target=count_installed, args=[done], daemon=True).start()
        done.set()
    if pip.returncode != 0:
        sys.exit(f"\nThis failed: {' '.join(command)}\n{remedy}")


def ensure_ensurepip() -> None:
    """Debian leaves Python's own ensurepip out of python3: take it from apt."""
    if importlib.util.find_spec("ensurepip"):
        return
    apt = ["apt-get", "install", "--yes", "--no-install-recommends", "python3-venv"]
    by_hand = "Ask whoever looks after this machine to install Python's venv module (on Debian:\n"
    by_hand += f"  {' '.join(apt)}\n), then run this again."
    if not shutil.which("apt-get"):
        sys.exit(f"This Python can make no virtual environment: it has no ensurepip.\n{by_hand}")
    sudo = []
    if os.geteuid() != 0:
        if not shutil.which("sudo"):
            sys.exit(f"This Python has no ensurepip, and here is no root and no sudo.\n{by_hand}")
        sudo = ["sudo"]
    print(
        "This Python has no ensurepip: installing Debian's python3-venv (about 8 MB) with apt.",
        flush=True,
    )
    quiet = ["env", "DEBIAN_FRONTEND=noninteractive"]
    run_or_leave([*sudo, "apt-get", "update", "--quiet=2"], by_hand)
    run_or_leave([*sudo, *quiet, *apt, "--quiet=2"], by_hand)


def ensure_venv() -> None:
    """Make .venv, or make it anew when an earlier attempt left one without pip."""
    if PYTHON.exists():
        pip = subprocess.run(
            [str(PYTHON), "-m", "pip", "--version"], check=False, capture_output=True
        )
        if pip.returncode == 0:
            return
    ensure_ensurepip()
    print(f"Making {VENV}.", flush=True)
    run_or_leave(
        [sys.executable, "-m", "venv", "--clear", str(VENV)],
        f"Is there room on the disk, and may you write to {ROOT}?",
    )


def stamp(purpose: str) -> Path:
    """Path of the note that says for which pyproject.toml a purpose was installed."""
    return VENV / f"laidup-{purpose}.sha256"


def wanted_stamp() -> str:
    """Digest of all that decides whether an installation is still the right one."""
    digest = hashlib.sha256((ROOT / "pyproject.toml").read_bytes())
    digest.update(LOCK.read_bytes())
    digest.update(f"{ROOT} {sys.version}".encode())
    return digest.hexdigest()


def ensure_installed(purpose: str) -> None:
    """Install laidup, editable, with the purpose's extras, unless that stands already."""
    extras, served = PURPOSES[purpose]
    wanted = wanted_stamp()
    note = stamp(purpose)
    if PYTHON.exists() and note.exists() and note.read_text() == wanted:
        return
    ensure_venv()
    print("Installing laidup and what it builds on: some minutes the first time.", flush=True)
    pip = [str(PYTHON), "-m", "pip", "--disable-pip-version-check"]
    if purpose == "run":
        # Nothing but the files of the lock, what builds laidup among them.
        run_with_progress(
            [*pip, "install", "--no-deps", "--require-hashes", "--requirement", str(LOCK)],
            "The lines above say why. A hash that differs: somebody has changed the file, on its\n"
            "way or where it is kept; find out who before you go on. A file that cannot be had:\n"
            "python3 deploy/bootstrap.py run-unlocked takes what versions there are.",
        )
        extras = ""
    run_with_progress(
        [
            *pip,
            "install",
            *(["--no-deps", "--no-build-isolation"] if purpose == "run" else []),
            "--editable",
            f"{ROOT}[{extras}]" if extras else str(ROOT),
        ],
        "The lines above say why. Where the package index was not reached: 'pip config list' in\n"
        ".venv/bin shows which one pip asks, and with which proxy and certificates.",
    )
    for each in served:
        stamp(each).write_text(wanted)


def main(arguments: list[str]) -> None:
    """Install for the purpose that the command line names; the demo then starts."""
    if not arguments or arguments[0] not in PURPOSES:
        sys.exit(__doc__)
    purpose, further = arguments[0], arguments[1:]
    ensure_installed(purpose)
    laidup = VENV / "bin" / "laidup"
    if purpose == "demo":
        sys.stdout.flush()
        # The demo takes this process's place, so that Ctrl-C and signals reach it alone.
        os.execv(laidup, [str(laidup), "demo", *further])
    print(f"laidup stands in {VENV}; its command is {laidup}.")


if __name__ == "__main__":
    main(sys.argv[1:])
