"""Where each craft stood from when on; every move is a link of its craft's chain."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, insert, select

from monitor.clock import to_ms
from monitor.craft.craft_stays import Stay
from monitor.craft.links import LinkKind, move_json
from monitor.store.chain import Chain, Content
from monitor.store.craft_forms import as_stored_stay, stay_of, stay_row
from monitor.store.craft_rows import refusal
from monitor.store.statements import in_batches
from monitor.store.tables import stays


class StayRows:
    """The moves of one yard's craft."""

    def __init__(self, connection: Connection, yard_id: int, chain: Chain) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._chain = chain

    def stays_of(self, craft_id: str) -> tuple[Stay, ...]:
        """Where a craft stood, in order."""
        return self.read_stays([craft_id]).stays_of(craft_id)

    def all_stays(self) -> dict[str, tuple[Stay, ...]]:
        """Where every craft stood, in order."""
        return self.read_stays().places

    def add(self, new: Iterable[Stay], written_at: datetime) -> int:
        """Enter moves; one that is on record already adds nothing.

        Returns
        -------
        int
            How many were new.

        Raises
        ------
        RecordError
            If the craft is on record as standing elsewhere from that very moment on.
        """
        moves = list(new)
        places: dict[tuple[str, int], Stay] = {}
        for of_one in self.read_stays({stay.craft for stay in moves}).places.values():
            places.update(((stay.craft, to_ms(stay.since)), stay) for stay in of_one)
        fresh: list[Stay] = []
        for stay in moves:
            since_ms = to_ms(stay.since)
            known = places.get((stay.craft, since_ms))
            if known is None:
                places[stay.craft, since_ms] = stay
                fresh.append(stay)
            elif (known.space, known.berth) != (stay.space, stay.berth):
                raise refusal(
                    stay.craft,
                    "stays",
                    f"from {stay.since.isoformat()} on it stands in {known.space}/{known.berth}"
                    f" already, not in {stay.space}/{stay.berth}",
                    "History stays: enter a later move.",
                )
        self._chain.append_links(
            [
                Content(craft=one.craft, kind=LinkKind.MOVE, said=move_json(as_stored_stay(one)))
                for one in fresh
            ],
            written_at,
        )
        if fresh:
            self._connection.execute(insert(stays), [stay_row(one, self._yard_id) for one in fresh])
        return len(fresh)

    def read_stays(self, craft_ids: Collection[str] | None = None) -> "StaysRead":
        """Where these craft stood, or all: what can be read, and what cannot."""
        of_yard = (
            select(stays)
            .where(stays.c.yard_id == self._yard_id)
            .order_by(stays.c.craft_id, stays.c.since_ms)
        )
        if craft_ids is None:
            statements = [of_yard]
        else:
            batches = in_batches(sorted(craft_ids))
            statements = [of_yard.where(stays.c.craft_id.in_(some)) for some in batches]
        found: dict[str, list[Stay]] = {}
        troubles: dict[str, str] = {}
        for statement in statements:
            for row in self._connection.execute(statement):
                try:
                    found.setdefault(row.craft_id, []).append(stay_of(row))
                except (ValueError, TypeError, OverflowError) as error:
                    troubles[row.craft_id] = f"a move of it cannot be read ({error})"
        return StaysRead(
            places={key: tuple(places) for key, places in found.items()}, troubles=troubles
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class StaysRead:
    """Where craft stood, each in order, and what of it cannot be read; both by the craft's id."""

    places: dict[str, tuple[Stay, ...]]
    troubles: dict[str, str]  # in words

    def stays_of(self, craft_id: str) -> tuple[Stay, ...]:
        """Where one craft stood."""
        return self.places.get(craft_id, ())
