"""Whence callers come: where an open page may listen, and how often one may try to sign in.

A guesser is slowed down until guessing is hopeless; a person of the yard who is being guessed at
still gets in from a place where they were signed in before, and by a link in a mail.
"""

import time
from collections import OrderedDict
from collections.abc import Callable
from ipaddress import ip_address, ip_network
from threading import Lock

_MOST_KEPT = 20_000  # addresses, and names: a few MB
_IPV6_HOME = 64  # bits that one household has: within it a caller takes any address at will

BEYOND = (
    'whoever reached it would see every owner\'s craft, for with access = "open" it asks nobody'
    ' who they are; set 127.0.0.1, or access = "people" (docs/page.md)'
)


def is_loopback(host: str) -> bool:
    """Whether only the machine itself reaches an address to listen on."""
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False  # a name may lead anywhere, tomorrow too


class Allowance:
    """So many tries at once for each key, and then one in so many seconds."""

    def __init__(
        self, at_once: int, every_s: float, seconds: Callable[[], float] = time.monotonic
    ) -> None:
        self._at_once, self._every_s, self._seconds = at_once, every_s, seconds
        self._full_at: OrderedDict[str, float] = OrderedDict()  # when a key has all tries again
        self._lock = Lock()

    def take_try(self, key: str) -> float:
        """Take one try; how long to wait until there is one [s], 0 where it was given."""
        with self._lock:
            now = self._seconds()
            full_at = max(self._full_at.get(key, now), now)
            wait_s = full_at - now - (self._at_once - 1) * self._every_s
            if wait_s > 0:
                return wait_s
            self._full_at[key] = full_at + self._every_s
            self._full_at.move_to_end(key)
            while len(self._full_at) > _MOST_KEPT:
                self._full_at.popitem(last=False)
            return 0.0


class SignInPace:
    """Both allowances of one page: of each address, and of each person."""

    def __init__(
        self,
        seconds: Callable[[], float] = time.monotonic,
        *,
        of_person: tuple[int, float] = (20, 10.0),
    ) -> None:
        self._by_address = Allowance(10, 6.0, seconds)
        self._by_person = Allowance(*of_person, seconds)

    def wait_before_try(
        self, name: str, address: str, was_here: Callable[[], bool] = lambda: False
    ) -> float:
        """How long somebody has to wait before this try counts [s]; 0: it counts now.

        Parameters
        ----------
        name : str
            Whose password is tried: known or not, it makes no difference.
        address : str
            Whence.
        was_here : callable
            Whether that person was signed in from there before; asked only where others have used
            up the person's tries.
        """
        wait_s = self._by_address.take_try(address_group(address))
        if wait_s:
            return wait_s
        wait_s = self._by_person.take_try(name.casefold()[:100])
        return 0.0 if wait_s and was_here() else wait_s


def address_group(address: str) -> str:
    """The address, or of IPv6 the network of one household around it."""
    try:
        found = ip_address(address)
    except ValueError:
        return address[:64]
    if found.version == 4:
        return str(found)
    if found.ipv4_mapped:
        return str(found.ipv4_mapped)
    return str(ip_network((found, _IPV6_HOME), strict=False))
