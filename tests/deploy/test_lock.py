"""The lock fits pyproject.toml, names no server, and is what a yard's machine is set up with."""

from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest

DEPLOY = Path(__file__).parents[2] / "deploy"
HASH = f"--hash=sha256:{'0' * 64}"


def module(name):
    spec = spec_from_file_location(name, DEPLOY / f"{name}.py")
    made = module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


lock = module("lock")
WANTED = {
    "project": {
        "dependencies": ["alembic>=1.14", "paho-mqtt>=2.1,<3", "urllib3>=2.2"],
        "optional-dependencies": {"postgres": ["psycopg[binary]>=3.2"]},
    },
    "build-system": {"requires": ["hatchling>=1.25"]},
}
GOOD = {
    "alembic": "1.20.1",
    "editables": "0.6",
    "hatchling": "1.33",
    "paho-mqtt": "2.2.0",
    "psycopg": "3.3.9",
    "urllib3": "2.8.0.post1",
}


def text_of(pins, **changes):
    return "".join(
        f"{name}=={version} \\\n    {HASH}\n" for name, version in (pins | changes).items()
    )


def test_the_lock_that_is_kept_fits_pyproject():
    text = lock.LOCK.read_text(encoding="utf-8")
    assert list(lock.faults(text, lock.project(), {})) == []
    assert len(lock.pins(text)) > 20


def test_a_good_lock_has_no_faults():
    assert list(lock.faults(text_of(GOOD), WANTED, {"alembic": "1.20.1", "other": "1"})) == []


@pytest.mark.parametrize(
    ("text", "installed", "fault"),
    [
        (text_of(GOOD).replace(HASH, "", 1), {}, "alembic: it has no hash"),
        (f"--index-url https://packages.example/simple\n{text_of(GOOD)}", {}, "names a server"),
        (f"{text_of(GOOD)}x @ https://packages.example/x.whl\n", {}, "names a server"),
        (text_of({k: v for k, v in GOOD.items() if k != "urllib3"}), {}, "urllib3: pyproject"),
        (text_of(GOOD, alembic="1.9.0"), {}, "asks for >=1.14"),
        (text_of(GOOD, **{"paho-mqtt": "3.0"}), {}, "asks for <3"),
        (text_of(GOOD, psycopg="3.1"), {}, "asks for >=3.2"),
        (text_of(GOOD, hatchling="1.2"), {}, "asks for >=1.25"),
        (text_of(GOOD), {"alembic": "1.20.0"}, "alembic: 1.20.0 is installed"),
    ],
)
def test_each_fault_of_a_lock_is_found_alone(text, installed, fault):
    (found,) = lock.faults(text, WANTED, installed)
    assert fault in found


def test_the_lock_is_of_what_a_yards_machine_is_set_up_with():
    assert module("bootstrap").PURPOSES["run"][0] == lock.EXTRA
