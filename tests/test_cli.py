"""The door: help comes at once, and every command can be reached through it."""

import argparse
import subprocess
import sys
from collections.abc import Iterator

import pytest

from monitor.cli import COMMANDS, command_parser, main
from monitor.commands.parsers.flags import DeferredFunction
from tests.commands.yard_files import copied_yard, fill

# What commands work with, and what takes most of a second to import.
HEAVY = {"numpy", "sqlalchemy", "pydantic", "scipy", "pandas", "matplotlib", "fastapi", "paho"}

_HELP = """
import contextlib, io, sys
from monitor.cli import main
for words in {lines!r}:
    with contextlib.suppress(SystemExit), contextlib.redirect_stdout(io.StringIO()) as out:
        main(words)
    assert out.getvalue(), words
print(*sys.modules)
"""


# What a question about one craft has no use for, much of it slow to import; the first are
# laidup's own.
FOR_OTHERS = {
    "monitor.judgement", "monitor.alarms", "monitor.store.present", "monitor.store.assessments",
    "monitor.store.packed_judgements", "monitor.store.visible_picture",
    "monitor.store.outbox", "monitor.yard.facts", "monitor.settings.craft_form",
    "monitor.craft.plan.autumn", "monitor.intake.senml", "monitor.delivery.leaving_forms",
    "alembic", "apscheduler", "cryptography", "fastapi", "matplotlib", "paho", "pandas", "requests",
    "smtplib", "urllib3",
}  # fmt: skip
_QUESTION = """
import contextlib, io, sys
from monitor.cli import main
with contextlib.redirect_stdout(io.StringIO()) as out:
    assert main({words!r}) == 0
assert {craft!r} in out.getvalue()
print(*sys.modules)
"""


def all_parsers(parser: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    """A parser and all that hang on it; argparse has no public way to list them."""
    yield parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for child in dict.fromkeys(action.choices.values()):
                yield from all_parsers(child)


def help_lines() -> list[list[str]]:
    return [[*parser.prog.split()[1:], "--help"] for parser in all_parsers(command_parser())]


def test_no_help_imports_what_commands_work_with():
    # One process: what the first of them imported would still be there after the last.
    lines = [*help_lines(), ["--version"]]
    assert ["layup", "add", "--help"] in lines
    done = subprocess.run(
        [sys.executable, "-c", _HELP.format(lines=lines)],
        text=True, capture_output=True, check=True,
    )  # fmt: skip
    loaded = {name.partition(".")[0] for name in done.stdout.split()}
    assert "monitor" in loaded
    assert loaded & HEAVY == set()


def test_every_parser_leads_to_a_function_that_is_there():
    leading = [
        work
        for parser in all_parsers(command_parser())
        for work in parser._defaults.values()
        if isinstance(work, DeferredFunction)
    ]
    assert len(leading) > len(COMMANDS)
    assert all(callable(work.load_function()) for work in leading)


def test_every_command_is_listed_by_name_and_purpose_without_its_flags(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    assert ended.value.code == 0
    shown = capsys.readouterr().out
    listed = {line.split()[0] for line in shown.splitlines() if line.startswith("    ")}
    assert set(COMMANDS) - listed == set()


@pytest.mark.parametrize("line", [["nonsense"], [], ["run", "--nonsense"], ["calc"]])
def test_wrong_use_is_exit_status_2(line, capsys):
    with pytest.raises(SystemExit) as ended:
        main(line)
    assert ended.value.code == 2
    assert "usage: laidup" in capsys.readouterr().err


def test_the_version_is_the_one_that_is_installed(capsys):
    from importlib.metadata import version

    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"laidup {version('laidup')}\n"


# What streams (a page, a log), writes files in a form of its own, or asks a person.
WITHOUT_JSON = {
    "demo", "run", "init", "alarms cap", "completion",
    "export readings", "export record", "export alarms", "export photos", "export yard",
    "export craft",
    "access begin", "access renew-certificate", "access add", "access revoke",
    "access new-password", "access certify",
}  # fmt: skip


def test_every_command_that_answers_answers_machines_too():
    lacking = {
        " ".join(parser.prog.split()[1:])
        for parser in all_parsers(command_parser())
        if "run" in parser._defaults and "--json" not in parser._option_string_actions
    }
    assert lacking == WITHOUT_JSON


def modules_of_a_question(*words: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", _QUESTION.format(words=list(words), craft=words[2])],
        text=True, capture_output=True, check=True,
    )  # fmt: skip
    return set(done.stdout.split())


def test_a_question_about_one_craft_imports_no_more_than_its_answer_needs(tmp_path):
    config = copied_yard(tmp_path)
    fill(config)
    new = tmp_path / "more.csv"
    new.write_text("id,name,profile,arrived,place\nc1,Dunlin,outboard,2026-10-01,long-shed\n")
    assert main(["import", "craft", str(new), "--config", str(config)]) == 0
    for verb in ("list", "protection"):
        of_record = modules_of_a_question("layup", verb, "k1", "--config", str(config))
        assert "monitor.store.layup" in of_record
        # The craft file speaks of it, and is therefore read.
        assert of_record & (FOR_OTHERS - {"monitor.settings.craft_form"}) == set()
        untouched = modules_of_a_question("layup", verb, "c1", "--config", str(config))
        # Arrays are for mixes of antifreeze.
        assert untouched & (FOR_OTHERS | {"numpy"}) == set()
