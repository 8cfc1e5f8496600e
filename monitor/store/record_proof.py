"""The proof in a season record: the craft's links, hours of its spaces, the yard's head."""

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date, datetime
from hashlib import sha256
from typing import Any

from monitor.craft.canonical import canonical_bytes
from monitor.craft.links import YARD_CHAIN
from monitor.craft.merkle import RecordHead, leaf_of
from monitor.craft.proof_check import group_leaf, marks_of
from monitor.craft.signed_statements import sign_head
from monitor.craft.signing_key import SigningKey
from monitor.craft.tree_cover import HashedTree
from monitor.store.day_trees import FoldedGroup
from monitor.store.transaction import Transaction
from monitor.yard.day_leaves import HOUR, DayGroup

MOST_BYTES = 1_000_000


class SeasonProofs:
    """Makes proofs of many craft of one yard: what they share is read and hashed once."""

    def __init__(
        self,
        tx: Transaction,
        yard: str,
        since: date,
        until: date,
        key: SigningKey,
        now: datetime,
    ) -> None:
        """Read the yard's order of links and the groups of all days.

        Parameters
        ----------
        tx : Transaction
            A snapshot; it stays in use.
        yard : str
            The yard's id.
        since, until : date
            First and last day of UTC.
        key : SigningKey
        now : datetime
            Dates the head.
        """
        self._tx = tx
        places = tx.layup.chain.links_since()
        self._position = {(one.craft, one.number): n for n, one in enumerate(places)}
        self._links = HashedTree([leaf_of(one.hash) for one in places])
        head = RecordHead(self._links.size, self._links.root)
        self.head = sign_head(head, yard, now, key)
        self._days = tx.day_trees.folded_groups(since, until)
        self._trees = {
            day: HashedTree([group_leaf(json.loads(g.about), g.size, g.root) for g in groups])
            for day, groups in self._days.items()
        }
        self._day_links = {
            json.loads(one.body)["day"]["day"]: (YARD_CHAIN, one)
            for one in tx.layup.chain.chain_of(YARD_CHAIN)
            if '"day":{' in one.body
        }
        self._heads = tx.outbox.heads_by_person()

    def proof_of(
        self,
        craft: str,
        sensors: Mapping[str, Collection[date]],
        spaces: Collection[str],
        people: Collection[str] = (),
        cold_days: Sequence[date] = (),
    ) -> dict[str, Any]:
        """The proof of one craft.

        Parameters
        ----------
        craft : str
        sensors : mapping of str to collection of date
            Sensors of the spaces and of the craft itself, each with the days on which it counts.
        spaces : collection of str
            Where it stood: alarms of the space as a whole are shown too.
        people : collection of str
            Owners: letters to them are shown, and the record can be compared with their heads.
        cold_days : sequence of date, optional
            Days in the order of what they matter: where all hours would be more than `MOST_BYTES`,
            those of the last of them are only named with their root.

        Returns
        -------
        dict
            JSON, at most `MOST_BYTES` long unless its links alone are longer.
        """
        wanted = {
            day: [n for n, g in enumerate(groups) if _is_of(g, day, craft, sensors, spaces, people)]
            for day, groups in self._days.items()
        }
        shown = [self._day_shown(day, wanted[day]) for day in sorted(self._days)]
        proof = self._without_days(craft, sorted(self._days), people) | {"days": shown}
        self._fold_to_fit(proof, [one.isoformat() for one in cold_days])
        return proof

    def _day_shown(self, day: str, numbers: Sequence[int]) -> dict[str, Any]:
        leaves = self._tx.day_trees.group_leaves(day, numbers)
        groups = [
            DayGroup.over_leaves(json.loads(self._days[day][n].about), leaves[n]).as_shown()
            for n in numbers
        ]
        return {"day": day, "groups": groups, "tree": self._trees[day].cover_of(numbers)}

    def _without_days(
        self, craft: str, days: Iterable[str], people: Collection[str]
    ) -> dict[str, Any]:
        own = [(craft, one) for one in self._tx.layup.chain.chain_of(craft)]
        of_days = [self._day_links[day] for day in days if day in self._day_links]
        placed = sorted(
            (self._position[key, link.number], link.body)
            for key, link in (*own, *of_days)
            if (key, link.number) in self._position
        )
        links = [json.loads(body) for _, body in placed]
        sizes = {
            head.count
            for person, head in self._heads
            if person in people and head.count <= self._links.size
        }
        return {
            "head": self.head,
            "tree": self._links.cover_of([n for n, _ in placed], sizes),
            "links": links,
            "marks": marks_of([sha256(canonical_bytes(one)).digest() for one in links]),
        }

    def _fold_to_fit(self, proof: dict[str, Any], days: Sequence[str]) -> None:
        """Name hours of the mildest days by their roots alone until the proof is short enough."""
        too_much = len(canonical_bytes(proof)) - MOST_BYTES
        by_day = {one["day"]: one for one in proof["days"]}
        rest = [day for day in by_day if day not in days]
        for day in [*rest, *reversed(days)]:
            if too_much <= 0:
                return
            for n, group in enumerate(by_day[day]["groups"] if day in by_day else ()):
                if group["of"][0] != HOUR:
                    continue
                folded = DayGroup.over_leaves(group["of"], group["leaves"]).as_folded()
                too_much -= len(canonical_bytes(group)) - len(canonical_bytes(folded))
                by_day[day]["groups"][n] = folded


def _is_of(
    group: FoldedGroup,
    day: str,
    craft: str,
    sensors: Mapping[str, Collection[date]],
    spaces: Collection[str],
    people: Collection[str],
) -> bool:
    """Whether a group is of the craft, of a space it stood in, of a letter to its owner."""
    match json.loads(group.about):
        case ["hour", sensor, _]:
            return date.fromisoformat(day) in sensors.get(sensor, ())
        case ["alarm" | "told", space, of_craft]:
            return of_craft == craft or (not of_craft and space in spaces)
        case ["letter", person]:
            return person in people
    return False
