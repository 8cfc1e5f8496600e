"""Which broker, and how to speak to it."""

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
