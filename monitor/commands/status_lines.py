"""What ``laidup status`` says of the daemon, its faults, wrong clocks and calibrations due."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime

from monitor.errors import LaidupError
from monitor.health.telling import account_socket, ask_daemon
from monitor.intake.trust import wrong_by
from monitor.phrases.names import Names
from monitor.phrases.watch import due_lines, never_line, next_line
from monitor.settings.load import Settings
from monitor.store.intake_state import WrongClock
from monitor.wording import Wording
from monitor.yard.calibration_due import next_calibrations
from monitor.yard.health import HealthAccount, HealthFault
from monitor.yard.readers import words_for
from monitor.yard.space import Yard


def watch_lines(settings: Settings, now: datetime) -> Iterator[str]:
    """Whether laidup runs, and each of its faults with since when and what to do."""
    path = account_socket(settings.store_url, settings.file)
    try:
        account = ask_daemon(path)
    except TimeoutError:
        yield (
            "laidup runs, but does not answer: it hangs. Restart it (`systemctl restart laidup`)"
            " and keep its log."
        )
        return
    if account is None:
        yield "laidup is not running here: nobody is warned. Start `laidup run`."
        return
    yield "laidup is running" + (", but not all is well:" if account.faults else " and well.")
    wording = words_for(settings.yard, now)
    yield from (f"  {fault_text(fault, wording)}" for fault in account.faults)


def fault_text(fault: HealthFault, wording: Wording) -> str:
    """One fault: what, since when, and the remedy."""
    return f"{fault.what} Since {wording.clock(fault.since)}. {fault.remedy}"


def try_watch(settings: Settings) -> str:
    """What the daemon says of itself, for `laidup check`.

    Raises
    ------
    LaidupError
        With every fault and its remedy, if the daemon hangs or has a grave one.
    """
    try:
        account = ask_daemon(account_socket(settings.store_url, settings.file))
    except TimeoutError as error:
        raise LaidupError(
            "laidup runs, but does not answer: restart it and keep its log"
        ) from error
    if account is None:
        return "laidup is not running here; `laidup run` starts it."
    said = _all_faults(account, settings)
    if account.is_failing:
        raise LaidupError(said)
    return f"laidup is running. {said}" if said else "laidup is running and well."


def _all_faults(account: HealthAccount, settings: Settings) -> str:
    wording = words_for(settings.yard, account.at)
    return " ".join(fault_text(fault, wording) for fault in account.faults)


def clock_lines(clocks: Mapping[str, WrongClock], yard: Yard, wording: Wording) -> Iterator[str]:
    """One sentence for each clock that is wrong."""
    known = {sensor.name for sensor in yard.sensors}
    for name, clock in sorted(clocks.items()):
        if name in known:
            yield (
                f"The clock of {name} is {wrong_by(clock.ahead_s)},"
                f" since {wording.clock(clock.since)}: set it."
            )


def calibration_lines(yard: Yard, today: date) -> Iterator[str]:
    """What is due, one sentence each, what comes next, and what was never compared."""
    names = Names.of(yard, ())
    planned = next_calibrations(yard.sensors, yard.calibration_days)
    due = [one for one in planned if one.is_due(today)]
    yield from due_lines(due, names, len(due))
    coming = [one for one in planned if not one.is_due(today)]
    if coming:
        yield next_line(coming[0], names)
    never = sum(not sensor.calibrations for sensor in yard.sensors)
    if planned and never:  # a yard that compares none knows that
        yield never_line(never, len(yard.sensors))
