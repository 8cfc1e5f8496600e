"""A process's name by which another can find out whether it still runs."""

import os
import socket
from dataclasses import dataclass
from functools import cache
from pathlib import Path

_PARTS = 5  # and whatever the claimant puts behind them
_DEAD = frozenset("ZX")  # states of proc_pid_stat(5): ended, and only its parent has not noticed


def own_name() -> str:
    """The name of this process."""
    return name_of(os.getpid())


def name_of(pid: int) -> str:
    """Machine, boot, process namespace, process and when it started, as one word."""
    here = _this_process()
    return "/".join((here.machine, here.boot, here.namespace, str(pid), _start_ticks(pid) or ""))


def is_gone(name: str) -> bool:
    """Whether the process of a name has surely ended. One that cannot be looked up may live on."""
    parts = name.split("/")
    if len(parts) < _PARTS or not parts[3].isdigit():
        return False
    machine, boot, namespace, pid, began = parts[:_PARTS]
    here = _this_process()
    if machine != here.machine:
        return False
    if boot != here.boot:
        return True  # the machine has started anew since
    if namespace != here.namespace:
        return False  # of another container: its process numbers mean nothing here
    found = _start_ticks(int(pid))
    return found is None or (found != began and "" not in {found, began})


@dataclass(frozen=True, slots=True, kw_only=True)
class _OwnProcess:
    machine: str
    boot: str
    namespace: str


@cache
def _this_process() -> _OwnProcess:
    return _OwnProcess(
        # Copies of one disk share the first, machines with a careless name the second.
        machine=f"{_file_content('/etc/machine-id')}:{socket.gethostname()}".replace("/", ""),
        boot=_file_content("/proc/sys/kernel/random/boot_id"),
        namespace=_pid_namespace(),
    )


def _pid_namespace() -> str:
    try:
        return str(Path("/proc/self/ns/pid").readlink()).replace("/", "")
    except OSError:
        return ""


def _file_content(file: str) -> str:
    try:
        return Path(file).read_text(encoding="ascii", errors="replace").strip()
    except OSError:
        return ""


def _start_ticks(pid: int) -> str | None:
    """Clock ticks from boot to the start of a process; empty: not known; None: no such process."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return None
    except OSError:
        pass  # another user's: it lives
    try:
        stat = Path(f"/proc/{pid}/stat").read_text(encoding="ascii", errors="replace")
    except OSError:
        return ""
    # The second field, the program's name in brackets, may hold anything.
    fields = stat.rpartition(")")[2].split()
    return None if fields[0] in _DEAD else fields[19]
