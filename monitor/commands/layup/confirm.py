"""``laidup layup confirm``: a broken record was compared with the paper."""

import argparse
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from monitor.commands.author import author_of
from monitor.commands.opening import (
    Opened,
    craft_named,
    names_on_record,
    open_to_enter,
)
from monitor.commands.printing import print_json
from monitor.craft.breaks import Break
from monitor.craft.chain_check import open_breaks_of
from monitor.errors import BadValueError, ConfigurationError, fault_from
from monitor.store.statements import in_batches
from monitor.store.transaction import Transaction
from monitor.store.yard_breaks import confirm_yard, open_breaks_of_yard

_AT_ONCE = 100  # craft whose chains are in memory


def run_confirm(arguments: argparse.Namespace) -> int:
    """Tell the breaks and, if they were compared, enter so; 0 if none stays open, else 1."""
    if bool(arguments.craft) == arguments.all:
        wrong = BadValueError("no craft is named", "name the craft, or say --all, not both")
        raise ConfigurationError([fault_from(wrong, "layup confirm", "CRAFT")])
    with open_to_enter(arguments, craft_files=True) as bench:
        who = author_of(arguments.by, bench.yard, "layup confirm", "--by")
        asked = _craft_asked(arguments, bench)
        with bench.store.transaction() as tx:
            craft_ids = tx.layup.chain.craft_ids() if arguments.all else asked
            found = _open_breaks(tx, craft_ids, whole_list=arguments.all)
            left = found
            if found and arguments.compared:
                _enter_comparison(tx, found, who, whole_list=arguments.all)
                left = _open_breaks(tx, craft_ids, whole_list=arguments.all)
    still = {(one.craft, one.key) for one in left}
    if arguments.json:
        print_json([_break_json(one, still) for one in found])
    else:
        print("\n".join(_lines(found, still, asked, was_compared=arguments.compared)))
    return 1 if left else 0


def _enter_comparison(tx: Transaction, found: list[Break], who: str, *, whole_list: bool) -> None:
    """Put on record that a person compared these breaks with the paper."""
    now = datetime.now(UTC)
    for craft in dict.fromkeys(one.craft for one in found if one.craft):
        tx.layup.confirm_breaks(craft, who, now)
    if whole_list:
        confirm_yard(tx, who, now)


def _lines(
    found: list[Break], still: set[tuple[str, str]], asked: list[str], *, was_compared: bool
) -> Iterator[str]:
    if not found:
        yield f"Nothing is open: the record of {', '.join(asked) or 'the whole yard'} counts."
        return
    for one in found:
        yield f"{'Still open' if (one.craft, one.key) in still else 'Compared'}: {one}"
    if not was_compared:
        yield "Nothing was entered. When this is compared and put right, add --compared."


def _break_json(one: Break, still: set[tuple[str, str]]) -> dict[str, Any]:
    return {
        "craft": one.craft or None,
        "open": (one.craft, one.key) in still,
        "what": str(one),
    }


def _craft_asked(arguments: argparse.Namespace, bench: Opened) -> list[str]:
    names = names_on_record(bench)
    return list(dict.fromkeys(craft_named(one, names) for one in arguments.craft))


def _open_breaks(tx: Transaction, craft_ids: list[str], *, whole_list: bool) -> list[Break]:
    found: list[Break] = []
    for some in in_batches(craft_ids, _AT_ONCE):
        for chain in tx.layup.chain.stored_rows(some).values():
            found.extend(open_breaks_of(chain))
    told = {(one.craft, one.key) for one in found}
    of_yard = open_breaks_of_yard(tx) if whole_list else []
    return [*found, *(one for one in of_yard if (one.craft, one.key) not in told)]
