"""Blocks of the evening page: work in full and by space, and sensors that are not heard."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from monitor.phrases.judgements import act_text, basis_text
from monitor.phrases.names import Names, plain
from monitor.phrases.standings import is_well, row_of
from monitor.reports.picture import Picture
from monitor.reports.tasks import Task
from monitor.web.page_templates import space_path
from monitor.web.pages.work_rows import WorkRow
from monitor.wording import Wording
from monitor.yard.assessment import Assessment

SHOWN_WORK = 24  # rows of a kind in full; the others are counted by space
_NAMED_WORK = 12  # of the others in one space


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
    """Visits of one kind: the first in full, the others by space."""

    rows: tuple[WorkRow, ...]
    others: tuple[WorkOfSpace, ...]

    @property
    def count(self) -> int:
        """All of them."""
        return len(self.rows) + sum(one.count for one in self.others)


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
    tasks: Sequence[Task], rows_of: Callable[[Iterable[Task]], list[WorkRow]]
) -> WorkBlock:
    """Tasks of one kind in their order: the first as rows in full, the others by space."""
    return WorkBlock(
        rows=tuple(rows_of(tasks[:SHOWN_WORK])), others=_others_by_space(tasks, rows_of)
    )


def _others_by_space(
    tasks: Sequence[Task], rows_of: Callable[[Iterable[Task]], list[WorkRow]]
) -> tuple[WorkOfSpace, ...]:
    """What has no row in full, space by space: where the most pressing is, first."""
    here: dict[str, list[Task]] = {}
    for task in tasks[SHOWN_WORK:]:
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


def names_by_space(tasks: Iterable[Task]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Names of all craft of some tasks, none left out: nobody may start them."""
    in_order = sorted(tasks, key=lambda task: task.space.id)
    return tuple(
        (plain(those[0].space.name), tuple(plain(c.name) for task in those for c in task.craft))
        for _, group in groupby(in_order, key=lambda task: task.space.id)
        if (those := list(group))
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
