"""Questions over HTTP that have an end, however busily the far side sends one byte after another.

The library for it is imported when something is asked: what only reads the settings of a channel
asks nobody, and that import alone is several times the start of Python.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from monitor.deadline import Deadline

if TYPE_CHECKING:
    import requests
    from requests.adapters import HTTPAdapter
    from urllib3.connectionpool import HTTPConnectionPool


def bounded_session(deadline: Deadline) -> "requests.Session":
    """A session whose every connection the deadline can cut, in the middle of a header too."""
    import requests

    session = requests.Session()
    for scheme in ("http://", "https://"):
        session.mount(scheme, _cut_adapter(deadline))
    return session


@contextmanager
def bounded_answer(
    method: str, url: str, within_s: float, *, headers: dict[str, str], data: bytes | None = None
) -> "Iterator[requests.Response]":
    """Ask once, and give status and headers of the answer; its body is not read.

    Redirects are not followed: the address may stand for another host than the one that the yard
    trusts.

    Raises
    ------
    OSError
        If nobody answers, or the head of the answer has no end within so many seconds: a
        ``requests.RequestException``, which is one.
    """
    import requests

    with Deadline(within_s, "the answer") as deadline, bounded_session(deadline) as session:
        try:
            answer = session.request(
                method,
                url,
                data=data,
                headers=headers,
                timeout=within_s,
                allow_redirects=False,
                stream=True,  # the body is of no use, and may be endless
            )
        except requests.RequestException as error:
            if deadline.passed:
                raise requests.Timeout(str(deadline)) from error
            raise
        with answer:
            if deadline.passed:  # a head that was cut off looks like one that has ended
                raise requests.Timeout(str(deadline))
            yield answer


def _cut_adapter(deadline: Deadline) -> "HTTPAdapter":
    """What makes connections for a session, each of which the deadline can cut."""
    from requests.adapters import HTTPAdapter

    pools = _watched_pools(deadline)

    class CutAdapter(HTTPAdapter):
        def init_poolmanager(self, *args: object, **kwargs: object) -> None:
            super().init_poolmanager(*args, **kwargs)  # type: ignore[arg-type]
            self.poolmanager.pool_classes_by_scheme = pools

        def proxy_manager_for(self, proxy: str, **kwargs: object) -> object:
            manager = super().proxy_manager_for(proxy, **kwargs)
            if proxy.lower().startswith("http"):
                manager.pool_classes_by_scheme = pools
            return manager

    return CutAdapter()


def _watched_pools(deadline: Deadline) -> "dict[str, type[HTTPConnectionPool]]":
    from urllib3.connection import HTTPConnection, HTTPSConnection
    from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool

    class Plain(HTTPConnection):
        def connect(self) -> None:
            deadline.watch_socket(lambda: self.sock)
            super().connect()

    class Encrypted(HTTPSConnection):
        def connect(self) -> None:
            deadline.watch_socket(lambda: self.sock)
            super().connect()

    class PlainPool(HTTPConnectionPool):
        ConnectionCls = Plain

    class EncryptedPool(HTTPSConnectionPool):
        ConnectionCls = Encrypted

    return {"http": PlainPool, "https": EncryptedPool}
