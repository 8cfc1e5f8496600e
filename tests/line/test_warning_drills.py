"""No fault outside laidup silences a warning: every drill, once.

`python -m tests.line.drills` prints them as a table: who was told what, when.
"""

from pathlib import Path

import pytest

from tests.line.drills.__main__ import WARNING_DRILLS
from tests.line.drills.warnings import WarningDrill, row


@pytest.mark.parametrize("drill", WARNING_DRILLS, ids=lambda drill: drill.name)
def test_the_warning_reaches_whom_it_should(drill: WarningDrill, tmp_path: Path):
    came = drill.run(tmp_path)
    assert came.held, row(drill, came)
