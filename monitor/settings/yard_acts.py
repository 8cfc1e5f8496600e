"""People's changes of the yard itself: checked as a file would be, written with person and time.

Page, API and commands all come through `YardBook`.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.alarms.definitions import Definition
from monitor.clock import Clock
from monitor.craft.record import CraftRecord
from monitor.craft.stored import StoredCraft
from monitor.errors import ActError, ConfigurationError, Fault, as_sentence
from monitor.settings.craft_arrivals import lines_of, owners_to_add, records_of_list
from monitor.settings.faults import check_content
from monitor.settings.heard_sensors import heard_unknown
from monitor.settings.load import Settings, overlay_changes
from monitor.settings.parts import yard_from
from monitor.settings.yard_file import YardContent, YardFile
from monitor.settings.yard_items import PLACE_FIELDS, items_of, with_items
from monitor.settings.yard_overlay import present_items
from monitor.store.store import Store, Transaction
from monitor.store.taking_in import take_in
from monitor.web.access.end_access import end_access_by_old_address
from monitor.web.pages.yard_desk import HeardSensor, ListedCraft
from monitor.yard.people import names_by_id
from monitor.yard.yard_change import (
    ALWAYS,
    Item,
    ItemEdit,
    ItemKey,
    YardChange,
    YardPart,
    changes_by_item,
    standing_changes,
)

_MOST_ASIDE = 500  # messages that are looked through for sensors that nobody knows
_SOURCE = Path("the page")  # what faults would name as their file, and no reader is shown


@dataclass(frozen=True, slots=True, kw_only=True)
class InUse:
    """What craft in the yard's care lean on, so that it cannot go."""

    spaces: Mapping[str, int]  # craft that stand in each
    people: Mapping[str, str]  # the name of a craft of each owner


def in_use(craft: Iterable[StoredCraft]) -> InUse:
    """What the craft in care lean on."""
    craft = list(craft)
    return InUse(
        spaces=Counter(one.space for one in craft),
        people={one.owner: one.name for one in craft if one.owner},
    )


class YardBook:
    """The yard as its file and the page's changes have it; the one door to change it."""

    def __init__(
        self,
        settings: Callable[[], Settings],
        store: Store,
        clock: Clock,
        in_use: Callable[[], InUse],
        on_change: Callable[[], None] = lambda: None,
    ) -> None:
        """Take what to read and write by.

        Parameters
        ----------
        settings : callable
            The yard's settings now.
        store : Store
        clock : Clock
        in_use : callable
            What cannot go; asked before something is taken out.
        on_change : callable
            Called after a change was committed.
        """
        self._settings, self._store, self._clock = settings, store, clock
        self._in_use, self._on_change = in_use, on_change

    def read_items(self) -> dict[ItemKey, Item]:
        """Every item that the page may change, as it is now."""
        return items_of(self._content_now()[0])

    def read_changes(self) -> list[YardChange]:
        """Every change so far, in the order of writing."""
        return self._content_now()[1]

    def make_changes(self, edits: Sequence[ItemEdit], by: str) -> list[YardChange]:
        """Make changes, all of them or none; what changes nothing is left out.

        Parameters
        ----------
        edits : sequence of ItemEdit
            What is said of an item takes the place of all that was said of it before.
        by : str
            Whose doing it is: a person's id, or what a key is called.

        Raises
        ------
        ActError
            If the yard cannot be so; says what is wrong with which value, and what to do.
        """
        with self._store.transaction() as tx:
            made = self.change_within(tx, edits, by)
        if made:
            self._on_change()
        return made

    def change_within(
        self, tx: Transaction, edits: Sequence[ItemEdit], by: str, undoes: int | None = None
    ) -> list[YardChange]:
        """The same as a part of a larger act; the caller calls `tell_changed` when it stands."""
        now = self._clock.now()
        known = tx.yard_changes.all_changes()
        content = self._overlaid(known)
        before, made = items_of(content), list[YardChange]()
        for edit in edits:
            _refuse_odd_form(edit)
            was = before.get(edit.item)
            if was == edit.after:
                continue
            made.append(
                YardChange(
                    number=len(known) + len(made) + 1,
                    at=now,
                    since=_since(edit, known, now),
                    by=by,
                    part=edit.part,
                    key=edit.key,
                    before=was,
                    after=edit.after,
                    undoes=undoes,
                )
            )
        if made:
            self._refuse_used([one for one in made if one.after is None])
            after = items_of(self._overlaid([*known, *made]))
            # As the blocks understood it, so that the same thing said otherwise is no change.
            made = [
                one if one.after is None else _as_understood(one, after.get(one.item), known)
                for one in made
                if one.after is None or before.get(one.item) != after.get(one.item)
            ]
            made = [replace(one, number=len(known) + n) for n, one in enumerate(made, start=1)]
            tx.yard_changes.add(made)
            self._end_old_addresses(tx, made)
        return made

    def _end_old_addresses(self, tx: Transaction, made: Collection[YardChange]) -> None:
        """What was sent to a mail address opens nothing once its person has another."""
        changed = {
            one.key
            for one in made
            if one.part is YardPart.PEOPLE
            and one.before is not None
            and one.after is not None
            and str(one.before["mail"]).casefold() != str(one.after["mail"]).casefold()
        }
        for person in self._settings().yard.people:
            if person.id in changed:
                end_access_by_old_address(tx, person, self._clock.now())

    def undo_change(self, number: int, by: str) -> YardChange:
        """Take one change back; what stood before it stands again.

        Raises
        ------
        ActError
            If there is no such change, or its item was changed again since.
        """
        with self._store.transaction() as tx:
            made = self.undo_within(tx, number, by)
        self._on_change()
        return made

    def undo_within(self, tx: Transaction, number: int, by: str) -> YardChange:
        """The same as a part of a larger act; the caller calls `tell_changed` when it stands."""
        known = tx.yard_changes.all_changes()
        one = next((each for each in known if each.number == number), None)
        if one is None:
            raise ActError("there is no such change; open the page again")
        if changes_by_item(known)[one.item][-1].number != number:
            raise ActError("it was changed again since; correct it as it is now")
        back = ItemEdit(part=one.part, key=one.key, after=one.before, since=one.since)
        (made,) = self.change_within(tx, [back], by, undoes=number)
        return made

    def heard_unknown(self) -> list[HeardSensor]:
        """Sensors that send and that the yard does not know, the latest first."""
        settings = self._settings()
        with self._store.snapshot() as tx:
            rows = tx.aside.newest_by_topic(_MOST_ASIDE)
        known = [one.name for one in settings.yard.sensors]
        return heard_unknown(rows, settings.read_mappings(), known, settings.yard.id)

    def read_definitions(self) -> Mapping[str, Definition]:
        """The alarm set with the limits of the yard's file."""
        return self._settings().definitions

    def read_craft_list(self, text: str) -> list[ListedCraft]:
        """A list of craft as it is understood; nothing is taken in."""
        with self._store.snapshot() as tx:
            return self._read_list(tx, text)[2]

    def take_in_craft(self, text: str, by: str) -> int:
        """Take a list in, its new owners too, all of it or nothing; tells how many craft came.

        Raises
        ------
        ActError
            Where a line is wrong; says which, and why.
        """
        with self._store.transaction() as tx:
            records, edits, lines = self._read_list(tx, text)
            if wrong := [one for one in lines if one.problem]:
                raise ActError(f"line {wrong[0].line}: {wrong[0].problem}")
            if not records:
                raise ActError("the list has no craft that is not on record already")
            made = self.change_within(tx, edits, by)
            yard = self._settings().with_changes(tx.yard_changes.all_changes()).yard
            profiles, now = self._settings().profiles, self._clock.now()
            take_in(tx.layup, records, profiles, now, by, names_by_id(yard))
        if made:
            self._on_change()
        return len(records)

    def _read_list(
        self, tx: Transaction, text: str
    ) -> tuple[tuple[CraftRecord, ...], list[ItemEdit], list[ListedCraft]]:
        """The craft of a list, the owners to add, and its lines with what is wrong with each."""
        settings, lines = self._settings(), lines_of(text)
        new = owners_to_add(lines, settings.yard)
        said = with_items(
            settings.said,
            present_items(tx.yard_changes.all_changes())
            | {edit.item: edit.after for edit in new.values()},
        )
        try:
            yard = yard_from(check_content(YardFile, said, _SOURCE))
            on_record = {one.craft.id: one for one in tx.layup.all_records(settings.profiles)}
            records, listed = records_of_list(
                lines,
                {said: edit.key for said, edit in new.items()},
                yard,
                settings.profiles,
                on_record,
                self._clock.now(),
            )
        except ConfigurationError as error:
            raise ActError(words_of_faults(error.faults)) from error
        return records, list(new.values()), listed

    def tell_changed(self) -> None:
        """Have all parts that run go by what was written."""
        self._on_change()

    def _content_now(self) -> tuple[YardContent, list[YardChange]]:
        with self._store.snapshot() as tx:
            known = tx.yard_changes.all_changes()
        return self._overlaid(known), known

    def _overlaid(self, changes: Sequence[YardChange]) -> YardContent:
        try:
            return overlay_changes(self._settings().said, changes, _SOURCE)
        except ConfigurationError as error:
            raise ActError(words_of_faults(error.faults)) from error

    def _refuse_used(self, gone: Collection[YardChange]) -> None:
        """Refuse to take out a space in which craft stand, or a person whose craft is here."""
        if not any(one.part in {YardPart.SPACES, YardPart.PEOPLE} for one in gone):
            return
        used = self._in_use()
        for one in gone:
            if one.part is YardPart.SPACES and (count := used.spaces.get(one.key, 0)):
                raise ActError(f"{count} craft stand there; move them first")
            if one.part is YardPart.PEOPLE and (name := used.people.get(one.key)):
                raise ActError(f"{name} is theirs, and is in the yard's care")


def words_of_faults(faults: Sequence[Fault]) -> str:
    """What is wrong and what to do, without the places in a file that the reader never saw."""
    return " ".join(
        dict.fromkeys(f"{as_sentence(one.problem)} {as_sentence(one.remedy)}" for one in faults)
    )


# Of these parts an item says one thing, under this name.
_ONE_THING = {YardPart.YARD: "value", YardPart.HELPERS: "name"}


def _refuse_odd_form(edit: ItemEdit) -> None:
    name = _ONE_THING.get(edit.part)
    if name and edit.after is not None and set(edit.after) != {name}:
        raise ActError(f'{edit.part} {edit.key!r}: say it as {{"{name}": ...}}, and nothing else')


def _since(edit: ItemEdit, known: Sequence[YardChange], now: datetime) -> datetime:
    """From when a change holds; never before the one that it follows, but for a correction."""
    if edit.since is None:
        return now
    if edit.since > now:
        raise ActError("that time is still to come; enter it when it is so")
    if edit.since > ALWAYS and edit.part is YardPart.SENSORS:
        earlier = [one for one in standing_changes(known) if one.item == edit.item]
        if earlier and edit.since < earlier[-1].since:
            raise ActError("it was moved since then; give a later time, or take that move back")
    return edit.since


def _as_understood(
    change: YardChange, after: Item | None, known: Sequence[YardChange]
) -> YardChange:
    extra: dict[str, Any] = {}
    if change.part is YardPart.SENSORS:
        # Labels and topic of one that the page took in, which no file has yet, stay with it.
        earlier = [one.after for one in known if one.item == change.item]
        said = change.after if change.before is None else earlier[-1] if earlier else None
        extra = {name: one for name, one in (said or {}).items() if name not in PLACE_FIELDS}
    return replace(change, after={**extra, **(after or {})})
