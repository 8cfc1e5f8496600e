"""The time that the daemon goes by, for commands that read and write beside it."""

from monitor.clock import Clock, CorrectedClock, SystemClock
from monitor.store.store import Store
from monitor.yard.intake_fault import IntakeFaultKind


def daemon_clock(store: Store) -> Clock:
    """Clock of this machine, corrected as the daemon corrects it where it is wrong.

    What is kept of a wrong clock may be older than its setting: of both times the one counts that
    is nearer to the latest judgement.
    """
    with store.snapshot() as tx:
        fault = tx.intake_faults.all().get(IntakeFaultKind.OWN_CLOCK)
        judged = max((each.at for each in tx.assessments.latest()), default=None) if fault else None
    clock = CorrectedClock(SystemClock())
    if fault is not None and judged is not None:
        off_s = (judged - clock.now()).total_seconds()
        if abs(off_s + fault.amount) < abs(off_s):
            clock.correct_by(-fault.amount)
    return clock
