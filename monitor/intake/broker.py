"""Which broker, how to speak to it, and what to do where it does not take laidup's connection."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Literal, NamedTuple


class BrokerTrouble(StrEnum):
    """What is wrong between laidup and its broker, as far as the remedy differs."""

    CREDENTIALS = "credentials"
    ACCESS = "access"  # it takes the connection, and does not let the topics be read
    CLIENT_ID = "client id"  # another has the same
    CERTIFICATE = "certificate"
    CERTIFICATE_DATE = "certificate date"
    CERTIFICATE_NAME = "certificate name"
    PROTOCOL = "protocol"  # one side speaks TLS and the other does not, or it is no broker
    ENDED = "ended"
    NOTHING_LISTENS = "nothing listens"
    NO_ANSWER = "no answer"
    NAME_UNKNOWN = "name unknown"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class BrokerSettings:
    """The MQTT broker that the sensors publish to, and laidup's session with it.

    ``client_id`` names the session: it must stay the same over restarts and be used by nobody
    else, because what arrives while laidup is away waits in the broker under this name.
    """

    host: str = "127.0.0.1"
    port: int = 1883
    topics: tuple[str, ...] = ("#",)
    client_id: str = "laidup"
    is_client_id_given: bool = True  # else it is made of the yard's id
    version: Literal["5", "3.1.1"] = "5"
    keepalive_s: int = 7  # one that hangs is missed within twice as long
    session_expiry_s: int = 7 * 86400  # how long messages wait while laidup is away (MQTT 5)
    receive_maximum: int = 1000  # messages taken but not yet stored, at most
    keep_session: bool = True  # False only for a trial: nothing waits for it afterwards
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: bool = False
    ca_file: Path | None = None  # None: the machine's own authorities
    certificate_file: Path | None = None
    key_file: Path | None = None

    def __str__(self) -> str:
        return f"{self.host}:{self.port}"


_CREDENTIALS = (
    "Correct [broker] username and password, and the user in the broker's password file (with"
    " mosquitto: mosquitto_passwd, then a reload)."
)
_ACCESS = "Let this user read these topics in the broker's access list (deploy/mosquitto/)."
_TLS = (
    "The port may speak TLS where laidup does not, or the other way round: set [broker] tls to what"
    " the listener has, or name its other port (1883 without TLS, 8883 with it, as a rule)."
)
_CERTIFICATE = "Name the authority that signed it: [broker] ca_file."
_CERTIFICATE_DATE = (
    "Renew the broker's certificate; where it is in date, set this machine's clock, for one without"
    " a battery starts in the past."
)
_CERTIFICATE_NAME = (
    "Name the broker in [broker] host as its certificate does, or have one issued for that name or"
    " address."
)
_CLIENT_ID = (
    "Stop the other laidup, or give this one a [broker] client_id of its own; where [annunciator]"
    " is set, give that a username of its own."
)
_ENDED = (
    "See that the broker runs and what its log says. Where it ends every connection at once, its"
    " port speaks TLS and laidup does not, or the other way round: set [broker] tls."
)
_LISTENS = (
    "Start the broker (with mosquitto: systemctl start mosquitto), or correct [broker] host and"
    " port."
)
_REACH = "See that its machine is on and can be reached from here, past any firewall."
_NAME = "Correct [broker] host, or see that names are looked up on this machine."
_OTHERWISE = "`laidup check` tries it and says what to mend; the broker's own log says more."

BROKER_REMEDIES: Mapping[BrokerTrouble, str] = {
    BrokerTrouble.CREDENTIALS: _CREDENTIALS,
    BrokerTrouble.ACCESS: _ACCESS,
    BrokerTrouble.CLIENT_ID: _CLIENT_ID,
    BrokerTrouble.CERTIFICATE: _CERTIFICATE,
    BrokerTrouble.CERTIFICATE_DATE: _CERTIFICATE_DATE,
    BrokerTrouble.CERTIFICATE_NAME: _CERTIFICATE_NAME,
    BrokerTrouble.PROTOCOL: _TLS,
    BrokerTrouble.ENDED: _ENDED,
    BrokerTrouble.NOTHING_LISTENS: _LISTENS,
    BrokerTrouble.NO_ANSWER: _REACH,
    BrokerTrouble.NAME_UNKNOWN: _NAME,
    BrokerTrouble.OTHER: _OTHERWISE,
}


class NoConnection(NamedTuple):
    """Why the broker does not take laidup's connection."""

    trouble: BrokerTrouble
    words: str  # a clause behind the broker's address

    @property
    def remedy(self) -> str:
        """What to do about it."""
        return BROKER_REMEDIES[self.trouble]
