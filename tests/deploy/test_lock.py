"""The lock fits pyproject.toml, names no server, and is what a yard's machine is set up with."""

import json
import os
import subprocess
import zipfile
from base64 import urlsafe_b64encode
from hashlib import sha256
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import SimpleNamespace

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
        "optional-dependencies": {"postgres": ["psycopg[binary]>=3.2"], "signature": []},
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
    assert module("bootstrap").PURPOSES["run"][0] == ",".join(lock.EXTRAS)


def wheel(folder, name, version, requires=(), licence="MIT"):
    """A package as an index keeps it; gives its file."""
    plain = name.replace("-", "_")
    info = f"{plain}-{version}.dist-info"
    needs = "".join(f"Requires-Dist: {one}\n" for one in requires)
    files = {
        f"{plain}.py": f"VERSION = '{version}'\n",
        f"{info}/METADATA": f"Metadata-Version: 2.4\nName: {name}\nVersion: {version}\n"
        f"License-Expression: {licence}\n{needs}",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: test\nRoot-Is-Purelib: true\n"
        "Tag: py3-none-any\n",
    }
    record = [
        f"{one},sha256={urlsafe_b64encode(sha256(text.encode()).digest()).decode().rstrip('=')},\n"
        for one, text in files.items()
    ]
    files[f"{info}/RECORD"] = "".join([*record, f"{info}/RECORD,,\n"])
    (folder / name).mkdir(parents=True, exist_ok=True)
    path = folder / name / f"{plain}-{version}-py3-none-any.whl"
    with zipfile.ZipFile(path, "w") as packed:
        for file, text in files.items():
            packed.writestr(file, text)
    links = [
        f'<a href="{one.name}#sha256={sha256(one.read_bytes()).hexdigest()}">{one.name}</a>'
        for one in sorted((folder / name).glob("*.whl"))
    ]
    (folder / name / "index.html").write_text("<html><body>" + "".join(links) + "</body></html>")
    return path


@pytest.fixture
def yard(tmp_path, monkeypatch):
    """A lock of its own over an index in a folder, which pip is configured to ask."""
    python = lock.python_with("piptools", "pip-tools", tmp_path / "tools")
    assert python, "pip-tools: python3 deploy/bootstrap.py test installs it"
    index = tmp_path / "index"
    for name in ("hatchling", "editables", "stove-wick"):
        wheel(index, name, "1.30")
    (tmp_path / "pyproject.toml").write_text(
        '[build-system]\nrequires = ["hatchling>=1.25"]\nbuild-backend = "hatchling.build"\n'
        '[project]\nname = "yard"\nversion = "1"\ndependencies = ["bilge-float>=1.1,<3"]\n'
        '[project.optional-dependencies]\npostgres = ["stove-wick"]\nsignature = []\n'
    )
    (tmp_path / "pip.conf").write_text(
        f"[global]\nindex-url = {index.as_uri()}\nextra-index-url = https://other.example/simple\n"
    )
    for name in [name for name in os.environ if name.startswith("PIP_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("PIP_CONFIG_FILE", str(tmp_path / "pip.conf"))
    monkeypatch.setattr(lock, "ROOT", tmp_path)
    monkeypatch.setattr(lock, "LOCK", tmp_path / "run.lock")
    monkeypatch.setattr(lock, "known_holes", lambda _text: ([], "nobody was asked"))
    return SimpleNamespace(index=index, python=python, file=tmp_path / "run.lock")


def test_renewing_takes_the_newest_of_the_configured_index_with_its_hashes(yard, capfd):
    old = wheel(yard.index, "bilge-float", "1.2")
    assert lock.renew(yard.python) == 3, "holes could not be asked for"
    assert lock.pins(yard.file.read_text())["bilge-float"] == "1.2"
    assert sha256(old.read_bytes()).hexdigest() in yard.file.read_text()
    new = wheel(yard.index, "bilge-float", "1.10", ["lead-keel>=2"])
    wheel(yard.index, "bilge-float", "3.0")
    wheel(yard.index, "lead-keel", "2.4")
    capfd.readouterr()
    assert lock.renew(yard.python) == 3
    told = capfd.readouterr().out
    assert "bilge-float: 1.2 -> 1.10\nlead-keel: not locked -> 2.4\n" in told
    assert "KNOWN HOLES WERE NOT ALL ASKED FOR: nobody was asked." in told
    text = yard.file.read_text()
    assert set(lock.pins(text)) == {
        "bilge-float", "lead-keel", "hatchling", "editables", "stove-wick",
    }  # fmt: skip
    assert sha256(new.read_bytes()).hexdigest() in text
    assert "example" not in text
    assert str(yard.index) not in text


def test_what_cannot_be_resolved_leaves_the_lock_as_it_was(yard):
    wheel(yard.index, "bilge-float", "1.2")
    lock.renew(yard.python)
    before = yard.file.read_text()
    wheel(yard.index, "bilge-float", "1.3", ["nowhere-to-be-had"])
    (yard.index / "bilge-float" / "bilge_float-1.2-py3-none-any.whl").unlink()
    with pytest.raises(SystemExit, match="the lock is as it was"):
        lock.renew(yard.python)
    assert yard.file.read_text() == before


def test_what_was_renewed_can_be_installed_and_a_changed_file_or_odd_licence_is_told(
    yard, monkeypatch
):
    monkeypatch.setenv("PIP_EXTRA_INDEX_URL", "")
    monkeypatch.setenv("PIP_DISABLE_PIP_VERSION_CHECK", "1")
    wheel(yard.index, "bilge-float", "1.2", licence="LicenseRef-Pay-Me")
    lock.renew(yard.python)
    there = yard.file.parent / "there"
    install = [yard.python, "-m", "pip", "install", "-q", "--no-deps", "--require-hashes"]
    install += ["--target", str(there), "--requirement", str(yard.file)]
    subprocess.run(install, check=True)
    locked, where = set(lock.pins(yard.file.read_text())), [str(there)]
    assert list(lock.changed_files(locked, where)) == []
    (odd,) = lock.odd_licences(locked, where)
    assert odd == "bilge-float: its licence is LicenseRef-Pay-Me; read what it allows"
    (there / "bilge_float.py").write_text("VERSION = 'mine'\n")
    (there / "stove_wick.py").unlink()
    changed = sorted(lock.changed_files(locked, where))
    assert [one.partition(";")[0] for one in changed] == [
        "bilge-float: bilge_float.py is not what was installed",
        "stove-wick: stove_wick.py is gone",
    ]
    # A file that was swapped in the index is refused.
    wheel(yard.index, "bilge-float", "1.2", licence="MIT")
    assert subprocess.run([*install, "--upgrade"], check=False, capture_output=True).returncode


def test_the_licences_of_what_is_locked_are_known_as_free_enough():
    assert list(lock.odd_licences(set(lock.pins(lock.LOCK.read_text(encoding="utf-8"))))) == []


SOUND = {"name": "alembic", "version": "1.20.1", "vulns": []}
HOLED = {
    "name": "jinja2",
    "version": "3.1.5",
    "vulns": [{"id": "PYSEC-2026-9", "fix_versions": ["3.1.6"], "aliases": []}],
}
SKIPPED = {"name": "numpy", "skip_reason": "Dependency not found on PyPI"}


@pytest.mark.parametrize(
    ("answers", "holes", "why_not"),
    [
        ([SOUND, SOUND], [], ""),
        ([SOUND, HOLED], ["jinja2 3.1.5: PYSEC-2026-9, mended in 3.1.6"], ""),
        ([SOUND, SKIPPED], [], "knows nothing of 1 of 2"),
        ([SKIPPED, SKIPPED], [], "knows none of the packages"),
        ([SOUND], [], "knows nothing of 1 of 2"),
        ([], [], "knows none of the packages"),
        (None, [], "was not reached"),
    ],
)
def test_a_service_that_could_not_be_asked_is_no_word_that_all_is_well(answers, holes, why_not):
    said = "" if answers is None else json.dumps({"dependencies": answers, "fixes": []})
    found, why = lock.holes_told(said, 2)
    assert found == holes
    assert why_not in why
    assert bool(why) == bool(why_not)


def test_each_python_of_a_small_computer_is_asked_for_files_by_their_hash(monkeypatch, capsys):
    asked = []

    def pip(command, **_):
        asked.append(command)
        older = command[command.index("--python-version") + 1] == "3.11"
        said = "" if older else "WARNING: slow\nERROR: No distribution found for numpy==9\n"
        return SimpleNamespace(returncode=0 if older else 1, stdout="", stderr=said)

    monkeypatch.setattr(lock.subprocess, "run", pip)
    monkeypatch.setattr(lock, "one_index", dict)
    assert lock.wheels() == 1
    assert len(asked) == 4
    for command in asked:
        assert {"--dry-run", "--require-hashes", "--only-binary=:all:"} <= set(command)
        assert "--platform=manylinux_2_28_aarch64" in command
    told = capsys.readouterr().out.splitlines()
    assert told[0] == "Python 3.11: every locked package has a ready file for aarch64."
    assert told[1] == "Python 3.12: ERROR: No distribution found for numpy==9"
