"""The name under which the broker keeps a yard's messages, where it is not made of the yard's id.

All yards once had the same. One that had it goes on with it: under another name it would never be
given what waits in the broker.
"""

from sqlalchemy import Connection, select

from monitor.store.tables import session_names


class SessionNames:
    """The session of one yard at its broker."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def earlier_client_id(self) -> str | None:
        """Client id that the yard has had since before it was made of its id; None: it had none."""
        return self._connection.scalar(
            select(session_names.c.client_id).where(session_names.c.yard_id == self._yard_id)
        )
