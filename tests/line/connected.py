"""Whether a daemon in the test's own process has its broker: its account tells only faults."""

from monitor.daemon.daemon import Daemon


def is_connected(daemon: Daemon) -> bool:
    """Whether what the sensors send reaches it now."""
    return daemon._intake.intake_health().connected
