"""What is answered at the bench outlives the program, and is written once."""

import errno
import json
import os

import pytest

from monitor.commands.layup.unfinished import Unfinished, saved_answers
from tests.commands.yard_files import copied_yard, laidup

STEP = ("Loon", "drained", "Ines", "14 Nov 2026 9:00", "hoses", "yes", "", "", "")
ONE = Unfinished(
    craft="k10",
    kept_at="2026-11-14T16:20:00-06:00",
    answers=(("act", "drained"), ("by", "Ines"), ("note", None)),
)


@pytest.fixture
def bench(tmp_path, capsys, monkeypatch):
    """Answers the questions of ``layup add``; an exception among them is raised."""
    config = copied_yard(tmp_path)
    laidup("import", "craft", str(tmp_path / "craft.toml"), "--config", str(config))

    def run(*answers) -> str:
        left = list(answers)
        asked: list[str] = []

        def answer(question: str) -> str:
            asked.append(question)
            said = left.pop(0) if left else EOFError()
            if isinstance(said, BaseException):
                raise said
            return said

        monkeypatch.setattr("builtins.input", answer)
        monkeypatch.setattr("sys.stdin.isatty", lambda: True)
        capsys.readouterr()
        run.status = laidup("layup", "add", "--config", str(config))
        told = capsys.readouterr()
        assert not left, told.out
        return "\n".join([told.out, told.err, *asked])

    def drains() -> list[dict]:
        capsys.readouterr()
        laidup("layup", "list", "k10", "--json", "--config", str(config))
        work = json.loads(capsys.readouterr().out)
        return [one for one in work if one["act"] == "drained"]

    run.drains, run.folder = drains, tmp_path
    return run


def left_behind(folder) -> list[str]:
    return [one.name for one in folder.iterdir() if "unfinished" in one.name]


@pytest.mark.parametrize("answered", range(2, len(STEP) + 1))
@pytest.mark.parametrize("end", [EOFError(), KeyboardInterrupt()])
def test_a_bench_that_ends_loses_no_answer_and_doubles_none(bench, answered, end):
    before = len(bench.drains())
    told = bench(*STEP[:answered], end)
    assert "Your answers are kept" in told
    assert len(bench.drains()) == before
    told = bench("yes", *STEP[answered:], "yes", "no")
    assert "Not finished on " in told
    assert told.count("What was done") == 0
    [drained] = bench.drains()[before:]
    assert (drained["at"], drained["circuits"]) == ("2026-11-14T15:00:00Z", ["hoses"])
    assert left_behind(bench.folder) == []


def test_now_is_kept_as_the_time_that_it_was(bench):
    bench(*STEP[:3], "", EOFError())
    [kept] = [one.read_text() for one in bench.folder.iterdir() if "unfinished" in one.name]
    at = dict(json.loads(kept)["answers"])["at"]
    assert at[-3] == ":"
    assert "now" not in at


def test_whoever_leaves_or_drops_it_is_not_asked_again(bench):
    assert "are kept" not in bench(*STEP[:5], "q")
    assert left_behind(bench.folder) == []
    bench(*STEP[:5], EOFError())
    told = bench("no", "q")
    assert "Which craft" in told
    assert "Not finished" not in bench("q")


def test_what_was_written_before_the_program_was_killed_is_not_offered(bench):
    bench(*STEP, "yes", "no")
    [drained] = bench.drains()[-1:]
    with saved_answers(bench.folder / "yard.toml") as kept:
        kept.keep_answers(ONE)
        kept.name_entry(drained["id"])
    told = bench("q")
    assert f"was written: {drained['id']}" in told
    assert "Not finished" not in told


def test_a_question_left_at_the_offer_keeps_it_offered(bench):
    bench(*STEP[:5], EOFError())
    for leaving in (EOFError(), "q", "<"):
        assert "are kept" in bench(leaving)
    assert "Not finished" in bench("no", "q")


def test_two_benches_at_once_do_not_take_each_other_s_answers(tmp_path):
    yard = tmp_path / "yard.toml"
    with saved_answers(yard) as first:
        first.keep_answers(ONE)
        with saved_answers(yard) as second:
            assert second.found is None
            second.keep_answers(ONE)
    assert len(left_behind(tmp_path)) == 2
    with saved_answers(yard) as again:
        assert again.found == ONE
    assert (tmp_path / left_behind(tmp_path)[0]).stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("text", [b"", b"{", b"[]", b'{"craft": 1}', b"\xff\xfe", b"[" * 60000])
def test_a_file_that_says_nothing_is_no_answer(tmp_path, text):
    (tmp_path / f"yard.unfinished-{os.getuid()}-1").write_bytes(text)
    with saved_answers(tmp_path / "yard.toml") as kept:
        assert kept.found is None


def test_without_room_or_folder_questions_are_asked_all_the_same(tmp_path, monkeypatch):
    with saved_answers(tmp_path / "nowhere" / "yard.toml") as kept:
        kept.keep_answers(ONE)
        assert not kept.holds_answers

    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "no room")

    with saved_answers(tmp_path / "yard.toml") as kept:
        monkeypatch.setattr("os.pwrite", full)
        kept.keep_answers(ONE)
        assert not kept.holds_answers
