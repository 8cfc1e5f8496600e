"""A work list: whole jobs on many craft in one file, as CSV with a row a step, or as TOML.

Nothing that stands above is said twice. In CSV an empty craft, time or person is that of the row
above. In TOML a job names its craft once, one or several, above its steps. ``same_as`` takes over
the work done on another craft; what was seen there is never taken over, for nobody saw it here.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from monitor.craft.acts import act_meant
from monitor.craft.canonical import values_of
from monitor.craft.fields import FIELDS, Field
from monitor.craft.layup import LayupEntry
from monitor.craft.naming import said_of_craft
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.profile import Profile
from monitor.errors import ConfigurationError, Fault, fault_from
from monitor.settings.craft_names import craft_meant
from monitor.settings.entry_as_typed import written_form
from monitor.settings.faults import error_at, one_of
from monitor.settings.layup_form import EntryForm
from monitor.settings.work_rows import CRAFT, MOST_STEPS, SAME_AS, fault_at, rows_of, usable_with
from monitor.settings.written_times import in_zone, is_time_alone, parse_past_time
from monitor.units import STRENGTH

# The work itself; what was seen, read or found, and what was left, belongs to one craft alone.
_NOT_THE_SAME = frozenset(
    {"id", "craft", "at", "by", "residual_l", "rested_v", "posture", "findings", "settles"}
    | {"note", "replaces", "entered_by"}
)
_TAKEN_OVER = tuple(
    field for field in FIELDS if field.part != "evidence" and field.path not in _NOT_THE_SAME
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedStep:
    """One step of a work list: on which craft, what the form says, and where it stands."""

    craft: str
    form: EntryForm
    where: str


def read_work_list(
    path: Path,
    now: datetime,
    names: Mapping[str, str],
    on_record: Mapping[str, Sequence[LayupEntry]],
    given: Mapping[str, str] | None = None,
    shelf: Sequence[ShelfProduct] = (),
    craft_names: Mapping[str, str] | None = None,
    progress: Callable[[int], None] | None = None,
    profiles: Mapping[str, Profile] | None = None,
) -> tuple[list[ListedStep], list[Fault]]:
    """Read a work list as far as it can be read.

    Parameters
    ----------
    path : Path
        CSV or TOML, by its suffix.
    now : datetime
        The present, in the yard's zone.
    names : mapping of str to str
        Who may enter work: names by id.
    on_record : mapping of str to sequence of LayupEntry
        Work of this season that stands, by craft: what ``same_as`` can take over.
    given : mapping of str to str, optional
        ``at`` and ``by`` where the list does not say.
    shelf : sequence of ShelfProduct
        Products that need only be named.
    craft_names : mapping of str to str, optional
        Names of the yard's craft by id: a list may name them so.
    progress : callable, optional
        Is told how many rows are read.
    profiles : mapping of str to Profile, optional
        Types of the yard's craft by id: what a circuit is called on each.

    Returns
    -------
    tuple of list of ListedStep and list of Fault
        The steps that can be read, and one fault for each thing that is wrong with the others,
        with its line or its place: so the rest can be looked at too, and all be told at once.

    Raises
    ------
    ConfigurationError
        If the file cannot be read, its heading makes no sense, or it holds no work.
    """
    faults: list[Fault] = []
    rows = list(rows_of(path, faults))
    done = {craft: [_work_of(entry) for entry in entries] for craft, entries in on_record.items()}
    reader = _Reader(
        path=path,
        now=now,
        names=names,
        given=given or {},
        shelf=shelf,
        craft_names=craft_names or {},
        profiles=profiles or {},
        faults=faults,
        done=done,
    )
    steps: list[ListedStep] = []
    for count, (where, row) in enumerate(rows, start=1):
        steps.extend(reader.read_row(where, row))
        if progress is not None:
            progress(count)
        if len(steps) > MOST_STEPS:  # a row may take over all the work on another craft
            raise error_at(
                path,
                where.rstrip(":. "),
                f"it comes to more than {MOST_STEPS:,} steps, and one list takes no more",
                "Cut it in two, the second beginning here.",
            )
    if not steps and not faults:
        csv = path.suffix.lower() == ".csv"
        remedy = "Write a row a step." if csv else "Write [[job]] with its craft and its steps."
        raise error_at(path, "", "it holds no work", remedy)
    return steps, faults


@dataclass(slots=True, kw_only=True)
class _Reader:
    """Reads one row after another, each by what stands above it; notes what is wrong."""

    path: Path
    now: datetime
    names: Mapping[str, str]
    given: Mapping[str, str]
    shelf: Sequence[ShelfProduct]
    craft_names: Mapping[str, str]
    profiles: Mapping[str, Profile]
    faults: list[Fault]
    done: dict[str, list[dict[str, Any]]]  # work by craft, that ``same_as`` can take over
    here: dict[str, list[dict[str, Any]]] = field(default_factory=dict)  # of this list itself
    above: datetime | None = None  # when the step above was done

    def read_row(self, where: str, row: dict[str, Any]) -> Iterator[ListedStep]:
        """The steps that a row stands for; none of those of which something is wrong."""
        craft = self._craft_named(row.pop(CRAFT, ""), f"{where}{CRAFT}")
        if row.get(SAME_AS):
            row[SAME_AS] = self._craft_named(row[SAME_AS], f"{where}{SAME_AS}")
            if not row[SAME_AS]:
                return
        try:
            said = list(_with_the_same(row, {**self.done, **self.here}, self.path, where))
        except ConfigurationError as error:
            self.faults.extend(error.faults)
            return
        for words in said:
            one = self._of_craft(words, craft, where)
            form = None if one is None else self._form_of(one, where)
            if one is not None and form is not None:
                self.above = in_zone(form.at, self.now.tzinfo or UTC)
                work = _work_of_form({**one, "act": str(form.act)})
                self.here.setdefault(craft, []).append(work)
            if form is not None and craft:
                yield ListedStep(craft=craft, form=form, where=where)

    def _of_craft(self, said: dict[str, Any], craft: str, where: str) -> dict[str, Any] | None:
        """A step with its circuits as that craft calls them; None where it has none such."""
        profile = self.profiles.get(craft)
        try:
            return said if profile is None else said_of_craft(said, profile)
        except ValueError as error:
            self.faults.append(fault_from(error, str(self.path), f"{where}circuits"))
            return None

    def _form_of(self, said: Mapping[str, Any], where: str) -> EntryForm | None:
        at = _time_of_step(said, self.given, self.above)
        try:
            said_all = {**self.given, **said, "at": at}
            return written_form(said_all, self.now, self.names, self.path, where, self.shelf)
        except ConfigurationError as error:
            self.faults.extend(error.faults)
            return None

    def _craft_named(self, said: object, key: str) -> str:
        """The id of a craft; empty, with a fault noted, where none or several may be meant."""
        if not said:
            wrong = fault_at(self.path, key, "no craft is named", "Name it by its id.")
            self.faults.append(wrong)
            return ""
        try:
            return craft_meant(str(said), self.craft_names)
        except ValueError as error:
            self.faults.append(fault_from(error, str(self.path), key))
            return ""


def _time_of_step(said: Mapping[str, Any], given: Mapping[str, str], above: datetime | None) -> Any:  # noqa: ANN401
    """When a step was done; an hour alone is of the day of the step above."""
    at = said.get("at") or given.get("at")
    if above is not None and isinstance(at, str) and is_time_alone(at):
        return parse_past_time(at, above)
    return at


def _with_the_same(
    row: dict[str, Any], done: Mapping[str, list[dict[str, Any]]], path: Path, where: str
) -> Iterator[dict[str, Any]]:
    """The steps that a row stands for: itself, or the work of another craft with its changes."""
    other = row.pop(SAME_AS, "") or ""
    if not other:
        yield row
        return
    if not done.get(other):
        problem = f"no work on {other!r} is on record this season, or above it in this list"
        known = one_of(str(other), sorted(craft for craft, work in done.items() if work))
        raise error_at(path, f"{where}{SAME_AS}", problem, known)
    meant = _steps_meant(row, other, done[other], path, where)
    changes = {key: value for key, value in row.items() if value}
    fits = [{**usable_with(one.get("act"), changes), "act": one.get("act")} for one in meant]
    # What none of the work can use is left in, and so told.
    unused = {key: changes[key] for key in changes if not any(key in said for said in fits)}
    for one, said in zip(meant, fits, strict=True):
        yield {**one, **said, **unused}


def _steps_meant(
    row: dict[str, Any], other: str, done: Sequence[dict[str, Any]], path: Path, where: str
) -> list[dict[str, Any]]:
    """The work of another craft that a row repeats: all of it, or that of the act it names.

    The row's act is then named as the record has it.
    """
    act = row.get("act")
    try:
        row["act"] = str(act_meant(act)) if act else ""
    except ValueError as error:
        raise ConfigurationError([fault_from(error, str(path), f"{where}act")]) from error
    meant = [one for one in done if not act or one.get("act") == row["act"]]
    if not meant:
        acts = ", ".join(dict.fromkeys(str(one.get("act")) for one in done))
        raise error_at(
            path, f"{where}act", f"no {row['act']} was done on {other}", f"Done: {acts}."
        )
    return meant


def _work_of(entry: LayupEntry) -> dict[str, Any]:
    """What another craft can take over of an entry, as a person would write it."""
    values = values_of(entry)
    return {
        field.column: _written_value(field, value)
        for field in _TAKEN_OVER
        if (value := values.get(field.path)) is not None
    }


def _work_of_form(said: Mapping[str, Any]) -> dict[str, Any]:
    columns = {field.column for field in _TAKEN_OVER} | {"strength_by"}
    return {key: value for key, value in said.items() if key in columns}


def _written_value(field: Field, value: Any) -> Any:  # noqa: ANN401  any field's
    if field.dimension is STRENGTH:
        return f"{value * 100!r}%"
    if field.dimension is not None:
        return f"{value!r}{field.dimension.unit}"
    if isinstance(value, tuple):
        return [str(one) for one in value]
    return str(value)
