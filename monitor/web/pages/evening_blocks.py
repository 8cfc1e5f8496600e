"""Blocks of the evening page: work in full and by space, and sensors that are not heard."""

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import islice

from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import Names, plain
from monitor.phrases.standings import is_well, row_of
from monitor.reports.picture import Picture
from monitor.reports.tasks import Task, key_of_act
from monitor.web.page_templates import space_path
from monitor.web.pages.work_rows import Holder, WorkRow
from monitor.wording import Wording, listed_first
from monitor.yard.assessment import Assessment

SHOWN_WORK = 24  # rows of a kind in full; of more, what one walk does stands together
_SHOWN_WALKS = 8  # of a kind; the others are counted by space
_SHOWN_LATE = 2  # of what comes too late
_SHOWN_SPACES = 8  # of the others in a line each; the rest stand behind one fold
_NAMED_WORK = 12  # of the others in one space
_ON_ONE_WALK = 40  # craft
_AT_ONE_TAP = 200  # alarms that a button may act on
_NAMED_ON_WALK = 12
_ONE_HOUR = timedelta(hours=1)  # within which the hours of one walk lie


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """The same act on craft of one space, done one after the other; never empty."""

    rows: tuple[WorkRow, ...]  # in the order of doing

    @property
    def first(self) -> WorkRow:
        """The most pressing of them."""
        return self.rows[0]

    @property
    def key(self) -> str:
        """Of its place on the page."""
        return f"walk-{self.first.key}"

    @property
    def space(self) -> str:
        """Name of the space that they stand in."""
        return self.first.space

    @property
    def last_due(self) -> str:
        """By when the last of them is due, where that is another hour."""
        last = self.rows[-1]
        return last.due if last.is_dated and last.due != self.first.due else ""

    @property
    def named(self) -> str:
        """The first of them by name, and how many more there are."""
        return listed_first([row.name for row in self.rows], _NAMED_ON_WALK)

    @property
    def names(self) -> str:
        """All of them by name."""
        return ", ".join(row.name for row in self.rows)

    @property
    def part_iced(self) -> str:
        """Names of all that have ice in a part of them."""
        return ", ".join(row.name for row in self.rows if row.part_iced)

    @property
    def caution(self) -> str:
        """The cautions of all of them."""
        return " ".join(row.caution for row in self.rows if row.caution)

    @property
    def asks(self) -> tuple[str, ...]:
        """Ids of the alarms of all of them that nobody has taken on."""
        return tuple(one for row in self.rows for one in row.asks)[:_AT_ONE_TAP]

    @property
    def taken(self) -> tuple[str, ...]:
        """Ids of those that somebody has."""
        return tuple(one for row in self.rows for one in row.taken)[:_AT_ONE_TAP]

    @property
    def taken_craft(self) -> int:
        """How many of them somebody has taken on as a whole."""
        return sum(row.holder is not None and not row.asks for row in self.rows)

    @property
    def holder(self) -> Holder | None:
        """Who has all of them, since the last was taken on; None: nobody, or several people."""
        held = [row.holder for row in self.rows if row.holder is not None and not row.asks]
        if len(held) < len(self.rows) or len({one.person for one in held}) > 1:
            return None
        return max(held, key=lambda one: one.at)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkOfSpace:
    """Work in one space that has no row in full: the first of it in a line each."""

    name: str
    path: str
    count: int
    rows: tuple[WorkRow, ...]

    @property
    def not_shown(self) -> int:
        """How many more there are."""
        return self.count - len(self.rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkBlock:
    """Visits of one kind: the first in full, of many walk by walk; the others by space."""

    rows: tuple[WorkRow, ...] = ()
    walks: tuple[Walk, ...] = ()  # in place of rows
    walk_count: int = 0  # those among the others too
    others: tuple[WorkOfSpace, ...] = ()

    @property
    def shown(self) -> int:
        """How many stand above the others."""
        return len(self.rows) + sum(len(walk.rows) for walk in self.walks)

    @property
    def count(self) -> int:
        """All of them."""
        return self.shown + self.others_count

    @property
    def others_count(self) -> int:
        """Those that are told by space."""
        return sum(one.count for one in self.others)

    @property
    def near(self) -> tuple[WorkOfSpace, ...]:
        """Of the others, the spaces with the most pressing."""
        return self.others[:_SHOWN_SPACES]

    @property
    def far(self) -> tuple[WorkOfSpace, ...]:
        """Of the others, the spaces behind those."""
        return self.others[_SHOWN_SPACES:]


@dataclass(frozen=True, slots=True, kw_only=True)
class SilentSensor:
    """A sensor that is not heard as it should be."""

    space: str
    place: str
    standing: str
    act: str
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SilentSpace:
    """Sensors of one space that are not heard as they should be; never empty."""

    space: str
    sensors: tuple[SilentSensor, ...]

    @property
    def told(self) -> str:
        """Which one it is, or how many they are and how each of them stands."""
        if len(self.sensors) == 1:
            return f"{self.sensors[0].place}, {self.sensors[0].standing}"
        counts = Counter(one.standing for one in self.sensors)
        if len(counts) == 1:
            return f"{len(self.sensors)} sensors {self.sensors[0].standing}"
        said = ", ".join(f"{count} {standing}" for standing, count in counts.most_common())
        return f"{len(self.sensors)} sensors: {said}"


def block_of_work(
    tasks: Sequence[Task],
    rows_of: Callable[[Iterable[Task]], list[WorkRow]],
    *,
    is_late: bool = False,
) -> WorkBlock:
    """Tasks of one kind in their order: a few as rows in full, many walk by walk and by space."""
    if len(tasks) <= SHOWN_WORK:
        return WorkBlock(rows=tuple(rows_of(tasks)))
    walks = group_by_walk(tasks)
    shown = walks[: _SHOWN_LATE if is_late else _SHOWN_WALKS]
    above = {id(task) for walk in shown for task in walk}
    return WorkBlock(
        walks=list_walks(shown, rows_of),
        walk_count=len(walks),
        others=_others_by_space([task for task in tasks if id(task) not in above], rows_of),
    )


def group_by_walk(tasks: Iterable[Task]) -> list[list[Task]]:
    """Tasks that one walk does: the same act in one space, its hours within one hour.

    In the order of the most pressing of each; a walk has `_ON_ONE_WALK` craft at most.
    """
    walks: list[list[Task]] = []
    open_walks: dict[Hashable, list[Task]] = {}
    for task in tasks:
        key = _key_of_walk(task)
        walk = open_walks.get(key)
        if walk is None or len(walk) >= _ON_ONE_WALK or not _is_within_hour(walk[0], task):
            walk = open_walks[key] = []
            walks.append(walk)
        walk.append(task)
    return walks


def _key_of_walk(task: Task) -> Hashable:
    if len(task.craft) != 1:
        return id(task)  # a whole space's errand is a walk of its own
    if task.has_ice:
        return task.space.id
    parts = tuple((one.id, one.name) for one in task.craft[0].circuits)  # what the act may name
    return (task.space.id, task.can_wait, task.first.hazard, key_of_act(task.first), parts)


def _is_within_hour(first: Task, task: Task) -> bool:
    if first.by is None or task.by is None:
        return first.by is task.by
    return abs(task.by - first.by) <= _ONE_HOUR


def list_walks(
    walks: Sequence[Sequence[Task]], rows_of: Callable[[Iterable[Task]], list[WorkRow]]
) -> tuple[Walk, ...]:
    """The rows of some walks."""
    rows = iter(rows_of([task for walk in walks for task in walk]))
    return tuple(Walk(rows=tuple(islice(rows, len(walk)))) for walk in walks)


def _others_by_space(
    tasks: Sequence[Task], rows_of: Callable[[Iterable[Task]], list[WorkRow]]
) -> tuple[WorkOfSpace, ...]:
    """What has no row in full, space by space: where the most pressing is, first."""
    here: dict[str, list[Task]] = {}
    for task in tasks:
        here.setdefault(task.space.id, []).append(task)
    return tuple(
        WorkOfSpace(
            name=plain(those[0].space.name),
            path=space_path(space),
            count=len(those),
            rows=tuple(rows_of(those[:_NAMED_WORK])),
        )
        for space, those in here.items()
    )


def list_silent_spaces(picture: Picture, names: Names, words: Wording) -> tuple[SilentSpace, ...]:
    """What is not heard, a space a row: when a gateway fails, twenty sensors are one errand."""
    found: dict[str, list[SilentSensor]] = {}
    for each in picture.sensors:
        if not is_well(each):
            one = _silent_sensor(each, names, words)
            found.setdefault(one.space, []).append(one)
    return tuple(SilentSpace(space=space, sensors=tuple(those)) for space, those in found.items())


def _silent_sensor(seen: Assessment, names: Names, words: Wording) -> SilentSensor:
    return SilentSensor(
        space=names.space(seen.subject.space),
        place=names.sensor_place(seen.subject.part),
        standing=row_of(seen).word,
        act=act_text(seen, names, words),
        basis=basis_text(seen, names, words),
    )
