import re
from datetime import UTC, datetime, timedelta

from tests.commands.yard_files import copied_yard, fill, laidup


def test_hours_are_made_and_thrown_away_and_made_again(tmp_path, capsys):
    config = copied_yard(tmp_path)
    # Long enough ago for every hour to be over: none more ends while this runs.
    fill(config, until=datetime.now(UTC) - timedelta(hours=12), days=1)
    counts = []
    for more in ((), (), ("--anew",)):
        assert laidup("rollups", "--config", str(config), *more) == 0
        said = re.search(r"^(\d+) hours of .* are made\.$", capsys.readouterr().out, re.MULTILINE)
        counts.append(int(said[1]))
    assert counts[0] > 20
    assert len(set(counts)) == 1
