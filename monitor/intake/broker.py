"""Which broker, how to speak to it, and what to do where it does not take laidup's connection."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal


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
_CLIENT_ID = "Stop the other laidup, or give this one a [broker] client_id of its own."
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

# The first that fits counts, so what is said of the client stands before what any end may be.
_REMEDIES = (
    (("Not authorized", "Bad user name", "Bad authentication"), _CREDENTIALS),
    (("access list", "does not let"), _ACCESS),
    (("client id",), _CLIENT_ID),
    (("not trusted",), _CERTIFICATE),
    (("SSL", "TLS", "does not speak MQTT"), _TLS),
    (("it broke", "the connection ended", "reset by peer"), _ENDED),
    (("nothing listens",), _LISTENS),
    (("does not answer", "timed out", "unreachable", "No route"), _REACH),
    (("name is not known",), _NAME),
)


def remedy_of_broker(said: str) -> str:
    """What to do, by the sentence that says why there is no connection."""
    return next(
        (remedy for words, remedy in _REMEDIES if any(word in said for word in words)), _OTHERWISE
    )
