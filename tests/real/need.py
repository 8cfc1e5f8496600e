"""Finds a program that the tests cannot do without, or fails with the way to get it."""

import os
import shutil
import socket
import time
from collections.abc import Callable

import pytest

_SEARCHED = os.pathsep.join([os.environ.get("PATH", os.defpath), "/usr/sbin", "/sbin"])
_BUSY_MACHINE = 3.0  # how many times longer all may take there


def need(program: str, package: str) -> str:
    """Path of a program; the test fails, and is never skipped, where the machine lacks it."""
    found = shutil.which(program, path=_SEARCHED)
    if found is None:
        pytest.fail(
            f"{program} is missing. 'sh deploy/test-machine.sh' installs all that tests need; "
            f"this alone: apt-get install {package}",
            pytrace=False,
        )
    return found


def free_port() -> int:
    """A TCP port of this machine that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


def wait_until(condition: Callable[[], bool], timeout: float, what: str) -> None:
    """Come back as soon as the condition holds; the test fails when that takes too long.

    Too long is three times ``timeout`` [s], ample on a machine with nothing else to do: how fast
    laidup is stands in benches, and a busy machine may not fail what laidup does right.
    """
    timeout *= _BUSY_MACHINE
    end = time.monotonic() + timeout
    while not condition():
        if time.monotonic() > end:
            pytest.fail(f"waited {timeout} s in vain: {what}")
        time.sleep(0.01)
