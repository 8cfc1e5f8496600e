"""What ``laidup check`` tries at the broker: the watch's own connection, and the lamp's.

A broker may call a client by its user's name (deploy/mosquitto/yard.conf): whoever comes as a user
that is connected ends that connection. So where laidup runs and comes as a user, it is asked, and
its connections are left alone.
"""

from typing import TYPE_CHECKING

from monitor.errors import BrokerError, DeliveryError
from monitor.settings.load import Settings
from monitor.yard.health import HealthFaultKind

if TYPE_CHECKING:
    from monitor.delivery.annunciator import AnnunciatorSettings
    from monitor.yard.health import HealthAccount


def check_watch_connection(settings: Settings) -> str:
    """Connect as the watch does, or ask the watch that runs.

    Raises
    ------
    BrokerError
        If readings would not come.
    """
    account = _running_watch(settings) if settings.broker.username is not None else None
    if account is None:
        from monitor.intake.session import check_broker

        return check_broker(settings.broker)
    for fault in account.faults:
        if fault.kind is HealthFaultKind.BROKER:
            raise BrokerError(f"laidup runs, and says: {fault.what} {fault.remedy}")
    return (
        f"laidup runs and says that it is connected to {settings.broker}; it was asked, since to"
        f" come as {settings.broker.username} a second time may end its connection. What [broker]"
        " says since it started is tried while it is stopped."
    )


def check_lamp_connection(settings: Settings, lamp: "AnnunciatorSettings") -> str:
    """Connect as the lamp's side does, where nobody is connected as that user.

    Raises
    ------
    DeliveryError
        If the lamp would not be told.
    """
    if lamp.username is not None and lamp.username == settings.broker.username:
        # Not even tried: such a broker would end the watch's session for it.
        raise DeliveryError(
            "annunciator",
            f"it speaks as {lamp.username}, as the watch does; a broker that calls clients by their"
            " users, as deploy/mosquitto/yard.conf has it, ends the one for the other, without end."
            " Set [annunciator] username to a user of its own with the same password"
            f" ({lamp.username}-lamp, which `laidup access` makes)",
            permanent=True,
        )
    if lamp.username is not None and _running_watch(settings) is not None:
        return (
            f"laidup runs and shows its state on {lamp.topic}/state as {lamp.username}; not tried,"
            " since to come as that user a second time may end its connection. Look whether the"
            " lamp shows anything but unknown, or stop laidup and check again."
        )
    from monitor.delivery.annunciator import check_annunciator

    return check_annunciator(lamp)


def _running_watch(settings: Settings) -> "HealthAccount | None":
    """The account of the daemon that runs on this store; None where none answers."""
    from monitor.health.telling import account_socket, ask_daemon

    try:
        return ask_daemon(account_socket(settings.store_url, settings.file))
    except TimeoutError as error:
        raise BrokerError(
            "laidup runs and does not say how it is, so its connection is not tried; restart it"
        ) from error
