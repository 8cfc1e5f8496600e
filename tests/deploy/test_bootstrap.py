"""Set-up says what is missing in words, meets an old Python politely, and does nothing twice."""

import ast
import runpy
import shutil
import subprocess
import sys
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest

BOOTSTRAP = Path(__file__).parents[2] / "deploy" / "bootstrap.py"


@pytest.fixture
def bootstrap(tmp_path, monkeypatch):
    """bootstrap.py as a module whose .venv is in the test's folder; it runs no command."""
    spec = spec_from_file_location("bootstrap", BOOTSTRAP)
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(module, "PYTHON", tmp_path / ".venv" / "bin" / "python")
    ran = []

    def run(command, **_):
        ran.append([str(word) for word in command])
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(subprocess, "run", run)
    module.shows_progress = module.run_with_progress
    monkeypatch.setattr(module, "run_with_progress", lambda command, _: run(command))
    module.ran = ran
    return module


def installed(bootstrap, purpose: str) -> None:
    bootstrap.PYTHON.parent.mkdir(parents=True)
    bootstrap.PYTHON.touch()
    bootstrap.ensure_installed(purpose)


def test_an_old_python_can_read_the_file_and_is_told_what_is_needed(monkeypatch):
    ast.parse(BOOTSTRAP.read_text(encoding="utf-8"), feature_version=(3, 7))
    monkeypatch.setattr(sys, "version_info", (3, 9, 2, "final", 0))
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer, and this is 3\.9"):
        runpy.run_path(str(BOOTSTRAP))


def test_a_32_bit_system_is_told_so_before_anything_is_fetched(monkeypatch):
    monkeypatch.setattr(sys, "maxsize", 2**31 - 1)
    with pytest.raises(SystemExit, match="needs a 64-bit system"):
        runpy.run_path(str(BOOTSTRAP))


def test_what_stands_is_not_installed_again(bootstrap):
    installed(bootstrap, "test")
    assert [command[-1].rpartition("[")[2] for command in bootstrap.ran] == ["--version", "test]"]
    bootstrap.ran.clear()
    # The tests' extra holds what the demo and a yard's machine need.
    for purpose in ("test", "demo", "run"):
        bootstrap.ensure_installed(purpose)
    assert bootstrap.ran == []


def test_the_demo_s_packages_are_not_enough_for_the_tests(bootstrap):
    installed(bootstrap, "demo")
    bootstrap.ran.clear()
    bootstrap.ensure_installed("test")
    assert bootstrap.ran[-1][-1].endswith("[test]")


def test_a_changed_pyproject_is_installed(bootstrap, tmp_path, monkeypatch):
    installed(bootstrap, "demo")
    bootstrap.ran.clear()
    (tmp_path / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    monkeypatch.setattr(bootstrap, "ROOT", tmp_path)
    bootstrap.ensure_installed("demo")
    assert bootstrap.ran[-1][-1] == f"{tmp_path}[demo]"


def test_a_yards_machine_gets_the_files_of_the_lock_and_no_others(bootstrap):
    installed(bootstrap, "run")
    packages, laidup = bootstrap.ran[-2:]
    assert {"--require-hashes", "--no-deps", str(bootstrap.LOCK)} <= set(packages)
    assert {"--no-deps", "--no-build-isolation", str(bootstrap.ROOT)} <= set(laidup)


def test_where_the_lock_cannot_be_had_a_person_may_say_so(bootstrap):
    installed(bootstrap, "run-unlocked")
    assert not any("--require-hashes" in command for command in bootstrap.ran)
    bootstrap.ran.clear()
    bootstrap.ensure_installed("run")
    assert bootstrap.ran, "it is no lock's installation"


@pytest.mark.parametrize(
    ("user", "programs", "first"),
    [(0, {"apt-get"}, "apt-get"), (1000, {"apt-get", "sudo"}, "sudo")],
    ids=["root", "user with sudo"],
)
def test_a_python_without_ensurepip_gets_it_from_apt(bootstrap, monkeypatch, user, programs, first):
    monkeypatch.setattr(bootstrap.importlib.util, "find_spec", lambda _: None)
    monkeypatch.setattr(bootstrap.os, "geteuid", lambda: user)
    monkeypatch.setattr(shutil, "which", lambda name: name if name in programs else None)
    bootstrap.ensure_ensurepip()
    update, install = bootstrap.ran
    assert update[0] == first
    assert "python3-venv" in install


@pytest.mark.parametrize("programs", [{"apt-get"}, set()], ids=["no sudo", "no apt"])
def test_where_it_cannot_be_installed_the_message_says_what_to_ask_for(
    bootstrap, monkeypatch, programs
):
    monkeypatch.setattr(bootstrap.importlib.util, "find_spec", lambda _: None)
    monkeypatch.setattr(bootstrap.os, "geteuid", lambda: 1000)
    monkeypatch.setattr(shutil, "which", lambda name: name if name in programs else None)
    with pytest.raises(SystemExit, match=r"no ensurepip[\s\S]*apt-get install .*python3-venv"):
        bootstrap.ensure_ensurepip()
    assert bootstrap.ran == []


def printing(*lines: str, status: int = 0) -> list[str]:
    said = "".join(f"print({line!r});" for line in lines)
    return [sys.executable, "-c", f"{said} raise SystemExit({status})"]


def test_who_waits_for_the_installation_sees_each_package_and_no_server(bootstrap, capsys):
    bootstrap.shows_progress(
        printing(
            "Looking in indexes: https://packages.example/simple",
            "Collecting numpy>=2 (from laidup==1)",
            "  Downloading https://packages.example/numpy.whl (10 MB)",
            "Collecting jinja2",
            "Installing collected packages: numpy, jinja2",
        ),
        "",
    )
    said = capsys.readouterr().out
    assert [line.strip() for line in said.splitlines()] == [
        "package 1: numpy>=2",
        "package 2: jinja2",
        "All are here; installing them.",
    ]


def test_an_installation_that_fails_ends_with_what_to_do(bootstrap):
    with pytest.raises(SystemExit, match="ask whoever keeps the index"):
        bootstrap.shows_progress(printing(status=1), "ask whoever keeps the index")
