"""What the pages of the yard itself work with: the one door to change it, and each page made."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from http import HTTPStatus
from typing import Any, Protocol

from fastapi import HTTPException
from fastapi.responses import HTMLResponse
from jinja2 import Environment

from monitor.alarms.definitions import Definition
from monitor.clock import Clock
from monitor.craft.profile import Profile
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import plain, sensor_label
from monitor.store.store import Store, Transaction
from monitor.web.access.roles import Right
from monitor.web.access.visitor import Visitor
from monitor.wording import Wording, typeset
from monitor.yard.message import MessageKind
from monitor.yard.readers import words_for
from monitor.yard.reading import Channel
from monitor.yard.space import Role, Space, Yard
from monitor.yard.yard_change import Item, ItemEdit, ItemKey, YardChange, YardPart


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardSensor:
    """A sensor that sends, and that the yard does not know."""

    name: str  # as it calls itself, without the label of a channel
    topic: str  # on which it was heard last
    own_topic: str  # the filter on which alone it is believed once it is taken in
    first_at: datetime
    last_at: datetime
    values: tuple[tuple[str, float], ...]  # channel and value, as it sent them last
    read_at: datetime  # when these were read, by the sensor or else by their arrival
    labels: Mapping[str, str]  # its own labels of channels that laidup calls otherwise


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedCraft:
    """One line of a list of craft as it was understood."""

    line: int
    name: str
    profile: str
    owner: str
    place: str
    problem: str = ""  # what is wrong with it, and the remedy; empty: nothing
    is_known: bool = False  # a craft of that name is on record


class ChangeableYard(Protocol):
    """The yard as its file and the page's changes have it; the one door to change it."""

    def read_items(self) -> Mapping[ItemKey, Item]:
        """Every item that the page may change, as it is now."""
        ...

    def read_changes(self) -> Sequence[YardChange]:
        """Every change so far, in the order of writing."""
        ...

    def make_changes(self, edits: Sequence[ItemEdit], by: str) -> Sequence[YardChange]:
        """Make changes, all of them or none; ActError if the yard cannot be so."""
        ...

    def change_within(
        self, tx: Transaction, edits: Sequence[ItemEdit], by: str
    ) -> Sequence[YardChange]:
        """The same within a transaction; `tell_changed` when it stands."""
        ...

    def undo_change(self, number: int, by: str) -> YardChange:
        """Take one change back; ActError if its item was changed again since."""
        ...

    def undo_within(self, tx: Transaction, number: int, by: str) -> YardChange:
        """The same within a transaction; `tell_changed` when it stands."""
        ...

    def tell_changed(self) -> None:
        """Have all parts that run go by what was written."""
        ...

    def heard_unknown(self) -> Sequence[HeardSensor]:
        """Sensors that send and that the yard does not know, the latest first."""
        ...

    def read_definitions(self) -> Mapping[str, Definition]:
        """The alarm set with the limits of the yard's file."""
        ...

    def read_craft_list(self, text: str) -> Sequence[ListedCraft]:
        """A list of craft as it is understood; nothing is taken in."""
        ...

    def take_in_craft(self, text: str, by: str) -> int:
        """Take a list in, all of it or nothing; ActError where a line is wrong."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUpStep:
    """One step of a new yard's first hour; each can be left and taken up again."""

    name: str
    path: str
    done: str  # what there is, in words
    is_done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class YardDesk:
    """What the routes of the yard's own pages work with."""

    store: Store
    yard: Yard
    clock: Clock
    read_craft: Callable[[], Sequence[StoredCraft]]
    profiles: Mapping[str, Profile]
    templates: Environment
    book: ChangeableYard

    def page_of(
        self,
        template: str,
        visitor: Visitor,
        *,
        up: str = "../",
        refused: str = "",
        **said: Any,  # noqa: ANN401
    ) -> HTMLResponse:
        """Render one page; ``refused`` says why what was sent is not taken."""
        words = words_for(self.yard, self.clock.now(), visitor.person)
        html = self.templates.get_template(template).render(
            up=up,
            yard=self.yard,
            words=words,
            form_token=visitor.form_token,
            is_first=template == "yard.html",
            next_step=None if template == "yard.html" else self._next_step(template),
            space_options=[(one.id, plain(one.name)) for one in self.yard.spaces],
            value_words=value_words,
            sensor_label=sensor_label,
            may_see_people=visitor.may(Right.CHANGE_YARD),
            may_change=visitor.may(Right.CHANGE_YARD) and visitor.person is not None,
            may_enter=visitor.may(Right.ENTER_WORK) and visitor.person is not None,
            refused=refused,
            **said,
        )
        status = HTTPStatus.UNPROCESSABLE_ENTITY if refused else HTTPStatus.OK
        return HTMLResponse(html, status)

    def set_up_steps(self, heard: int) -> list[SetUpStep]:
        """The steps from an empty store to a watched yard, each with what there is."""
        yard, craft = self.yard, self.read_craft()
        bare = [one.name for one in yard.spaces if not _sensors_in(yard, one)]
        reached = [one for one in yard.people if Role.OPERATOR in one.roles]
        rehearsed = self._has_rehearsed()
        sensors = _count(len(yard.sensors), "sensor")
        if heard:
            sensors += f", {heard} heard and not taken in"
        if bare and yard.sensors:
            sensors += f"; none in {_listed(bare)}"
        told = {
            "yard/place": (
                typeset(
                    f"{plain(yard.name)}, {yard.zone.key}, {yard.latitude:g}°, {yard.longitude:g}°"
                ),
                True,
            ),
            "yard/spaces": (_count(len(yard.spaces), "space"), bool(yard.spaces)),
            "yard/sensors": (sensors, bool(yard.sensors) and not bare and not heard),
            "yard/people": (
                f"{_listed([plain(one.name) for one in reached])} told of cold nights;"
                f" {_count(yard.duty.hands, 'person', 'people')} to work",
                bool(reached),
            ),
            "yard/shelf": (
                _count(len(yard.shelf), "product") if yard.shelf else "nothing written down",
                bool(yard.shelf),
            ),
            "yard/craft": (f"{len(craft)} craft in care", bool(craft)),
            "yard#rehearsal": (
                "sent" if rehearsed else "not yet: send yourself an evening's letter",
                rehearsed,
            ),
        }
        return [
            SetUpStep(name=name, path=path, done=told[path][0], is_done=told[path][1])
            for path, name in _FIRST_HOUR
        ]

    def _next_step(self, template: str) -> tuple[str, str] | None:
        """What follows a page while the yard is new: its name and path; None: nothing is led to."""
        pages = [path for path, _ in _FIRST_HOUR]
        page = template.removesuffix(".html").replace("_", "/")
        if page not in pages[:-1] or self._has_rehearsed():
            return None
        path, name = _FIRST_HOUR[pages.index(page) + 1]
        return name, path

    def _has_rehearsed(self) -> bool:
        with self.store.snapshot() as tx:
            return tx.outbox.was_written(MessageKind.TEST)


# The pages of a new yard's first hour, in order: path and name.
_FIRST_HOUR = (
    ("yard/place", "Name, place, units"),
    ("yard/spaces", "Spaces"),
    ("yard/sensors", "Sensors"),
    ("yard/people", "People, hands and duty"),
    ("yard/shelf", "Antifreeze on the shelf"),
    ("yard/craft", "Craft"),
    ("yard#rehearsal", "Rehearsal"),
)


def value_words(channel: Channel | str, value: float, words: Wording) -> str:
    """A reading in the reader's units."""
    what = Channel(channel)
    if math.isnan(value):
        return "no value"
    if what is Channel.TEMPERATURE:
        return words.temperature(value)
    if what is Channel.HUMIDITY:
        return f"{value:.0f} % RH"
    if what is Channel.VOLTAGE:
        return f"{value:.2f} V"
    if what is Channel.CURRENT:
        return f"{value:.2f} A"
    if what is Channel.MAINS:
        return "mains on" if value else "mains off"
    return f"{'sensor battery' if what is Channel.SENSOR_BATTERY else 'charge'} {value:.0f} %"


def person_who_changes(visitor: Visitor) -> str:
    """Id of the person whose doing a change is."""
    if visitor.person is None:
        raise HTTPException(403, "only a person of the yard changes it; sign in")
    return visitor.person.id


def _sensors_in(yard: Yard, space: Space) -> int:
    return sum(one.space == space.id for one in yard.sensors)


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


def _listed(names: Sequence[str]) -> str:
    return ", ".join(plain(name) for name in names) if names else "nobody"


CHANGED_PARTS = {
    YardPart.YARD: "the yard's",
    YardPart.SPACES: "space",
    YardPart.SENSORS: "sensor",
    YardPart.PEOPLE: "person",
    YardPart.HELPERS: "helper",
    YardPart.SHELF: "product",
    YardPart.DUTY: "",
}
