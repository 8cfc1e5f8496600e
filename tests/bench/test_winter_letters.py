"""Letters of winters answer what, when and for which craft, and the check of it can fail."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from monitor.alarms.letters.work_lines import WorkLine
from tests.bench.winter_letters import _faults_of_line, read_winter, rows_of

NOW = datetime(2026, 11, 14, 22, tzinfo=UTC)
LINE = WorkLine(
    by=NOW + timedelta(hours=4), is_ahead=True, due="20:00", name="Heron", place="Long Shed 3",
    space="Long Shed", job="Fill it.", minutes=30.0, chance="", caution=None, call="fill {name}",
    has_ice=False, part_iced=False, was_iced=False, too_late=False, news=True, alarm="a",
)  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "lack"),
    [
        ({}, None),
        ({"job": " "}, "no job"),
        ({"job": "", "has_ice": True}, None),
        ({"due": ""}, "no hour"),
        ({"name": ""}, "no craft or space"),
        ({"by": NOW - timedelta(minutes=1)}, "an hour to meet that has passed"),
    ],
)
def test_a_line_that_leaves_a_question_open_is_found(changes, lack):
    found = list(_faults_of_line(replace(LINE, **changes), NOW))
    assert [lack in each for each in found] == ([] if lack is None else [True])


def test_letters_of_two_begun_winters_answer_first_and_ask_for_nothing_that_is_done():
    read = read_winter((211, 214), craft=6, days=9.0, every_min=360.0)
    assert read.letters["operator"] > 0
    assert read.letters["owner"] > 0
    assert read.jobs_done > 0  # else nothing could be asked for in vain
    assert read.faults == []
    assert any("aim" in name for name, _ in rows_of(read))
