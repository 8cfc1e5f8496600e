"""Nothing that the broker acknowledged is lost, whatever dies: each drill with a few strikes.

`python -m tests.line.drills` runs them longer and prints the table.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.line.drills.packs import DRILLS, Drill, run

# Fewer strikes than the table has, but for the daemon's twenty: the issue of every release.
STRIKES = {"daemon killed -9": 20}


@pytest.mark.parametrize("drill", DRILLS, ids=lambda drill: drill.name)
def test_every_acknowledged_pack_is_stored_once(drill: Drill, tmp_path: Path):
    drill = replace(drill, times=STRIKES.get(drill.name, 2))
    came = run(drill, tmp_path, seed=20260110)
    assert came.acknowledged > 30 * drill.times
    assert 0 <= came.lost <= drill.may_lose * drill.times
    assert came.doubled == 0
