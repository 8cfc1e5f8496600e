"""What the running daemon says of itself, for commands: whether it runs, and its faults."""

from collections.abc import Iterator
from datetime import datetime

from monitor.errors import LaidupError
from monitor.health.telling import account_socket, ask_daemon
from monitor.settings.load import Settings
from monitor.wording import Wording
from monitor.yard.health import HealthAccount, HealthFault
from monitor.yard.readers import words_for


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
