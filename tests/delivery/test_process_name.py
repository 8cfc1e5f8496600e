"""Whether the process of a name still runs: yes, no, or not to be known from here."""

import os
import subprocess
import sys

import pytest

from monitor.delivery.process_name import is_gone, name_of, own_name

MACHINE, BOOT, NAMESPACE, PID, BEGAN = range(5)


def changed(part: int, value: str) -> str:
    """The name of this process with one part that is another's."""
    parts = own_name().split("/")
    parts[part] = value
    return "/".join(parts)


def test_this_process_and_its_parent_run():
    assert not is_gone(own_name())
    assert not is_gone(f"{own_name()}/7")  # a worker of it
    assert not is_gone(name_of(os.getppid()))


def test_a_process_that_was_killed_is_gone_even_before_its_parent_has_noticed():
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as other:
        name = name_of(other.pid)
        assert not is_gone(name)
        other.kill()
        os.waitid(os.P_PID, other.pid, os.WEXITED | os.WNOWAIT)  # dead, and not yet noticed
        assert is_gone(name)
        other.wait()
        assert is_gone(name)


def test_another_process_under_the_same_number_is_not_the_one_that_claimed():
    assert is_gone(changed(BEGAN, "1"))


def test_a_boot_ends_every_process():
    assert is_gone(changed(BOOT, "another-boot"))


@pytest.mark.parametrize(
    "name",
    [
        changed(MACHINE, "another-machine"),
        changed(NAMESPACE, "pid:[1]"),
        changed(BEGAN, ""),
        "",
        "laidup",
        "a/b/c/d/e",
    ],
    ids=["elsewhere", "another-namespace", "no-beginning", "empty", "a-word", "five-words"],
)
def test_what_cannot_be_looked_up_from_here_may_live_on(name):
    assert not is_gone(name)
