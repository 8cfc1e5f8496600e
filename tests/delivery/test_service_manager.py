"""Signs of life to a service manager: over a real datagram socket."""

import socket

import pytest

from monitor.delivery.life_signals import ServiceManager


@pytest.mark.parametrize("abstract", [False, True])
def test_the_service_manager_hears_ready_alive_and_stopping(tmp_path, abstract):
    # sd_notify(3): newline-separated assignments in one datagram each.
    name = f"@laidup-test-{tmp_path.name}" if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(f"\0{name[1:]}" if abstract else name)
        listener.settimeout(2)
        manager = ServiceManager({"NOTIFY_SOCKET": name, "WATCHDOG_USEC": "60000000"})
        assert manager.watchdog_s == 60.0
        assert manager.notify_ready()
        assert manager.notify_alive("All is\nwell.")
        assert manager.notify_stopping()
        heard = [listener.recv(1000) for _ in range(3)]
    assert heard == [b"READY=1", b"WATCHDOG=1\nSTATUS=All is well.", b"STOPPING=1"]


def test_without_a_service_manager_nothing_is_said():
    manager = ServiceManager({})
    assert manager.watchdog_s is None
    assert not manager.notify_ready()


def test_a_service_manager_that_is_gone_stops_nothing(tmp_path):
    assert not ServiceManager({"NOTIFY_SOCKET": str(tmp_path / "gone")}).notify_alive()
