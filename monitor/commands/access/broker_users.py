"""Users of the yard's broker, and the two files that mosquitto reads them from.

One block a user, each topic with the yard's id before it and the user's name behind: as
deploy/mosquitto/laidup.acl says and why.
"""

import base64
import hashlib
import secrets
from collections.abc import Iterable
from datetime import date
from enum import StrEnum

from monitor.settings.faults import Block
from monitor.settings.words import BrokerUser, Id, Text

# Without signs that are read for one another (0 and o, 1 and l): people type it into devices.
_SIGNS = "23456789abcdefghijkmnpqrstuvwxyz"
_GROUPS, _GROUP_LENGTH = 4, 6  # 24 signs of 32: 120 bits
# mosquitto_passwd's own: PBKDF2 with HMAC-SHA512, 101 rounds. What is stretched is random already.
_ROUNDS, _SALT_BYTES, _HASH_BYTES = 101, 12, 64
_DROPPED = "$SYS/broker/publish/messages/dropped"

_LIST_HEAD = """\
# What each user of the yard's broker may read and write; everything else is refused.
# Made by `laidup access`, which writes it anew whenever a user comes or goes: do not edit it.
"""


class UserKind(StrEnum):
    """What a user of the broker is there for."""

    DAEMON = "daemon"  # laidup itself
    SENDER = "sender"  # a sensor or gateway
    LAMP = "lamp"  # follows the annunciator


class BrokerUserEntry(Block):
    """One user of the broker."""

    name: BrokerUser
    kind: UserKind
    made_on: date
    lamp_topic: str = ""  # of a lamp: what it follows
    password_hash: Text


class BrokerUsers(Block):
    """All of one yard's, as they are kept."""

    yard: Id
    users: tuple[BrokerUserEntry, ...] = ()


def make_password() -> str:
    """A random password of 120 bits, in groups that can be typed."""
    groups = ("".join(secrets.choice(_SIGNS) for _ in range(_GROUP_LENGTH)) for _ in range(_GROUPS))
    return "-".join(groups)


def hash_password(password: str) -> str:
    """A password as mosquitto's password file keeps it: ``$7$rounds$salt$hash``, in base64."""
    salt = secrets.token_bytes(_SALT_BYTES)
    digest = hashlib.pbkdf2_hmac("sha512", password.encode(), salt, _ROUNDS, _HASH_BYTES)
    encoded = (base64.b64encode(part).decode("ascii") for part in (salt, digest))
    return "$".join(["", "7", str(_ROUNDS), *encoded])


def password_file_text(users: Iterable[BrokerUserEntry]) -> str:
    """Mosquitto's ``password_file``: a line a user, and one for laidup's second connection."""
    return "".join(
        f"{name}:{user.password_hash}\n" for user in users for name in connection_names(user)
    )


def access_list_text(book: BrokerUsers) -> str:
    """Mosquitto's ``acl_file``: a block a user."""
    blocks = [_LIST_HEAD]
    for user in book.users:
        lines = [f"topic {access} {topic}" for access, topic in topics_of(user, book)]
        blocks += ["\n".join([f"user {name}", *lines, ""]) for name in connection_names(user)]
    return "\n".join(blocks)


def connection_names(user: BrokerUserEntry) -> list[str]:
    """A name for each connection that a user holds.

    The broker lets one connection live under a name, and laidup has two: readings come in by one,
    the lamp is told by the other.
    """
    return [user.name, f"{user.name}-lamp"] if user.kind is UserKind.DAEMON else [user.name]


def topics_of(user: BrokerUserEntry, book: BrokerUsers) -> list[tuple[str, str]]:
    """What a user may do with which topics: ``read``, ``write`` or ``readwrite``, and the topic."""
    match user.kind:
        case UserKind.DAEMON:
            return [("readwrite", f"{book.yard}/#"), ("read", _DROPPED)]
        case UserKind.SENDER:
            return [("write", f"{book.yard}/{user.name}/#")]
        case UserKind.LAMP:
            return [("read", f"{user.lamp_topic}/#")]
