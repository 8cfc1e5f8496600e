"""Nothing that the broker acknowledged is lost, whatever dies: each drill with a few strikes.

`python -m tests.line.drills` runs them longer and prints the table.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.line.drills.packs import DRILLS, Drill, run
from tests.tried import tried

# Fewer strikes than the table has. Before a release, with PROPERTIES=nightly, the daemon dies 120
# times and the others 40.
STRIKES = {"daemon killed -9": tried(6)}


# Those that the store has to do with; a full disk of a server is in the winter drill.
ON_A_SERVER = {"daemon killed -9": 5, "store locked by another process": 1}


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)
def test_every_acknowledged_pack_is_stored_once(drill: Drill, tmp_path: Path):
    drill = replace(drill, times=STRIKES.get(drill.name, tried(2)))
    came = run(drill, tmp_path, seed=20260110)
    assert came.acknowledged > 30 * drill.times
    assert 0 <= came.lost <= drill.may_lose * drill.times
    assert came.doubled == 0


@pytest.mark.parametrize("name", ON_A_SERVER)
def test_every_acknowledged_pack_is_stored_once_on_a_server_too(name, tmp_path, postgres):
    (drill,) = [replace(one, times=ON_A_SERVER[name]) for one in DRILLS if one.name == name]
    came = run(drill, tmp_path, seed=20260110, url=postgres)
    assert came.acknowledged > 30 * drill.times
    assert (came.lost, came.doubled) == (0, 0)
