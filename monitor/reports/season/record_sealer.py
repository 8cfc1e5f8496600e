"""Seals season records with their proof: which days, spaces and letters one craft's proof shows."""

from base64 import b64encode
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from typing import Any

from monitor.craft.sealing import PROOF, YardKey, seal_record
from monitor.reports.season.figures import Kept, NightVerdict, SeasonFigures
from monitor.reports.season.read_season import season_bounds
from monitor.store.record_proof import SeasonProofs
from monitor.store.transaction import Transaction
from monitor.yard.space import Yard

MAX_PHOTOS_BYTES = 3_000_000  # of one record: with it, its mail stays below 10 MB, a common limit
_DAY = timedelta(days=1)


class RecordSealer:
    """Seals the records of one season of one yard: what they share is read and hashed once."""

    def __init__(
        self, tx: Transaction, yard: Yard, yard_key: YardKey, year: int, now: datetime
    ) -> None:
        """Read what all proofs share.

        Parameters
        ----------
        tx : Transaction
            The snapshot that the figures are read in; it stays in use.
        yard : Yard
        yard_key : YardKey
        year : int
            In whose July the season began.
        now : datetime
            Dates the yard's head.
        """
        self._tx = tx
        begins, ends = season_bounds(year, yard)
        last = max(begins, min(ends, now.astimezone(UTC)))
        self._yard_key = yard_key
        self._yard = yard
        self._proofs = SeasonProofs(tx, yard.id, begins.date(), last.date(), yard_key.key, now)

    @property
    def public(self) -> str:
        """The public key, hex."""
        return self._yard_key.key.public

    def seal_figures(self, figures: SeasonFigures, body: Mapping[str, Any]) -> dict[str, Any]:
        """Seal one record.

        Parameters
        ----------
        figures : SeasonFigures
        body : mapping
            The same figures as `season_json` gives them.
        """
        proof = self._proofs.proof_of(
            figures.craft.id,
            _days_of_sensors(figures, self._yard),
            sorted({one.space for one in figures.kept}),
            [figures.craft.owner] if figures.craft.owner else [],
            days_that_matter(figures),
        )
        photos = photos_in_record(self._tx, figures)
        document = {**body, **({"photos": photos} if photos else {}), PROOF: proof}
        return seal_record(document, self._yard_key.key, self._yard_key.successions)


def photos_in_record(tx: Transaction, figures: SeasonFigures) -> list[dict[str, Any]]:
    """Every photo that the work of a record names, once, in the order of the work.

    ``content`` (base64) is there while all of them stay within `MAX_PHOTOS_BYTES`; where it is not,
    ``left_out`` says why: ``size``, ``missing`` (the yard has it no more) or ``changed`` (what the
    yard has is not what the entry names).
    """
    entries = [
        version.entry
        for work in sorted((*figures.work, *figures.declined), key=lambda one: one.last.at)
        for version in work.versions
    ]
    of_entry: dict[str, str] = {}
    for entry in entries:
        for name in entry.evidence.photo_sha256:
            of_entry.setdefault(name, entry.id)
    found, room = [], MAX_PHOTOS_BYTES
    for name, entry_id in of_entry.items():
        told: dict[str, Any] = {"sha256": name, "media_type": "image/jpeg", "work": entry_id}
        content = tx.photos.content_of(name)
        if content is None:
            told["left_out"] = "missing"
        elif sha256(content).hexdigest() != name:
            told["left_out"] = "changed"
        elif len(content) > room:
            told["left_out"] = "size"
        else:
            told["content"] = b64encode(content).decode("ascii")
            room -= len(content)
        found.append(told)
    return found


def days_that_matter(figures: SeasonFigures) -> list[date]:
    """Days of UTC in the order of what they matter in a dispute.

    First the nights that came near, the least room first, then days on which an alarm was raised,
    then all other nights, the coldest first. Days on which nothing was heard are in none of them.
    """
    near = sorted(
        (one for one in figures.near_nights if one.low_at is not None),
        key=lambda one: (
            one.verdict is NightVerdict.NEAR,
            0.0 if one.room_k is None else one.room_k,
        ),
    )
    cold = sorted(
        ((one.low_c, one.low_at) for one in figures.nights if one.low_c is not None),
        key=lambda one: one[0],
    )
    times = [
        *(one.low_at for one in near),
        *(one.raised_at for one in figures.alarms),
        *(at for _, at in cold),
    ]
    return list(dict.fromkeys(at.astimezone(UTC).date() for at in times if at is not None))


def _days_of_sensors(figures: SeasonFigures, yard: Yard) -> dict[str, set[date]]:
    """Of each sensor that the record relies on, the days on which the craft stood in its space."""
    own = {one.name for one in yard.sensors if one.craft == figures.craft.id}
    return {
        one.name: _days_of(
            [stay for stay in figures.kept if one.name in own or stay.space == one.space]
        )
        for one in figures.sensors
    }


def _days_of(stays: Sequence[Kept]) -> set[date]:
    """Every day of UTC that a stay touches."""
    found: set[date] = set()
    for stay in stays:
        first, last = stay.since.astimezone(UTC).date(), stay.until.astimezone(UTC).date()
        found |= {first + n * _DAY for n in range((last - first).days + 1)}
    return found
