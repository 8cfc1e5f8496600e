"""``laidup storage``: told, written into files, compared; and what it refuses."""

import csv
import json

import pytest

from tests.commands.yard_files import copied_yard, laidup


@pytest.fixture
def storage(tmp_path, capsys):
    """The command over the demo's yard with its craft, and not one reading."""
    config = copied_yard(tmp_path)
    laidup("import", "craft", str(tmp_path / "craft.toml"), "--config", str(config))

    def run(*arguments):
        capsys.readouterr()
        status = laidup("storage", "--season", "2026", *arguments, "--config", str(config))
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


def test_a_yard_that_nobody_heard_is_inside_nothing(storage, tmp_path):
    status, out, _ = storage()
    assert status == 0
    assert "0 % inside the limits" in out
    assert "Nothing of its air was heard, so no hour counts as inside." in out
    told = json.loads(storage("--json")[1])
    assert told["whole"]["hours"]["inside_h"] == 0.0 < told["whole"]["hours"]["of_h"]
    for form, begins in (("csv", b"yard,season,"), ("pdf", b"%PDF"), ("json", b"{")):
        file = tmp_path / f"storage.{form}"
        assert storage("--out", str(file))[0] == 0
        assert file.read_bytes().startswith(begins)
    rows = list(csv.DictReader((tmp_path / "storage.csv").open()))
    assert {row["share_inside"] for row in rows} <= {"0.0", ""}


def test_yards_of_a_shop_stand_beside_each_other(storage, tmp_path):
    other = json.loads(storage("--json")[1])
    other["yard"] = {"id": "north", "name": "North Quay"}
    other["whole"]["hours"]["share_inside"] = 0.7512
    file = tmp_path / "north.json"
    file.write_text(json.dumps(other))
    status, out, _ = storage("--beside", str(file))
    assert status == 0
    [row] = [line for line in out.splitlines() if line.startswith("North Quay, 2026/27")]
    assert "75 %" in row


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (["--out", "storage.doc"], "its ending says no form"),
        (["--beside", "{}"], "no figures of storage"),
        (["--season", "2190"], "has not begun yet"),
    ],
)
def test_what_cannot_be_used_is_refused_with_a_remedy(storage, tmp_path, arguments, named):
    if arguments[-1] == "{}":
        (tmp_path / "bad.json").write_text("{}")
        arguments = ["--beside", str(tmp_path / "bad.json")]
    status, _, err = storage(*arguments)
    assert status == 2
    assert named in err
