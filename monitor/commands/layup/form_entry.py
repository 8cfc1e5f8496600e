"""A form that was filled in, by flags or at the bench, on its way into the record."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from monitor.commands.layup.after_entry import print_consequence
from monitor.commands.opening import Opened, tell_marked
from monitor.craft.acts import all_circuits
from monitor.craft.admission import faults_of_new_work
from monitor.craft.layup import LayupEntry
from monitor.craft.record import CraftRecord
from monitor.errors import Fault, RecordError, fault_from
from monitor.intake.photos import KeptPhoto
from monitor.settings.layup_form import EntryForm
from monitor.store.entering import enter

SOURCE = Path("layup add")


def faults_of_form(form: EntryForm, record: CraftRecord, bench: Opened) -> list[Fault]:
    """All that would keep a form out of the record, so that it is asked before it is written."""
    try:
        entry = entry_of_form(form, record.craft.id, record, bench)
    except RecordError as error:
        return error.faults
    return faults_of_new_work(entry, record, str(SOURCE), datetime.now(UTC))


def enter_form(
    form: EntryForm,
    craft: str,
    bench: Opened,
    *,
    as_json: bool,
    photos: Sequence[KeptPhoto] = (),
) -> None:
    """Write what a form says of a craft, with its photos, and say what it comes to."""
    with bench.store.transaction() as tx:
        for one in photos:
            tx.photos.keep_photo(one.sha256, one.content, craft, form.by, datetime.now(UTC))
        before = tx.layup.record_of(craft, bench.profiles)
        entry = entry_of_form(form, craft, before, bench)
        new = enter(tx.layup, [entry], bench.profiles, datetime.now(UTC), str(SOURCE))
        after = tx.layup.record_of(craft, bench.profiles)
        tell_marked(tx.layup.chain.marked)
    if before is not None and after is not None:
        print_consequence(bench, [entry], before, after, new, as_json=as_json)


def entry_of_form(
    form: EntryForm, craft: str, record: CraftRecord | None, bench: Opened
) -> LayupEntry:
    """The entry that a form says, "all" circuits put in by name.

    Raises
    ------
    RecordError
        If it cannot be an entry.
    """
    try:
        known = None if record is None else all_circuits(form.act, record.profile)
        return form.to_layup_entry(craft, bench.yard.zone, known)
    except ValueError as error:
        raise RecordError([fault_from(error, str(SOURCE), craft)]) from error


def missing_value(source: Path, key: str, remedy: str) -> RecordError:
    """What a person left out, with what to do."""
    fault = Fault(file=str(source), key=key, problem="it is missing", remedy=remedy)
    return RecordError([fault])
