"""Craft that come, move, go out, come back and are handed over: said at the page, put on record."""

from collections.abc import Mapping
from dataclasses import replace

from monitor.craft.canonical import derived_id
from monitor.craft.craft_stays import Stay
from monitor.craft.layup import Act, Evidence, LayupEntry
from monitor.errors import ActError, RecordError
from monitor.phrases.names import plain
from monitor.store.entering import enter, move
from monitor.store.store import Transaction
from monitor.web.pages.yard_desk import YardDesk

_SOURCE = "page"
TURNS = {
    "out": Act.TAKEN_OUT,
    "back": Act.BROUGHT_BACK,
    "over": Act.HANDED_OVER,
    "error": Act.ENTERED_IN_ERROR,
}


def enter_move(tx: Transaction, desk: YardDesk, form: Mapping[str, str], by: str) -> None:
    """Put a move on record.

    Raises
    ------
    ActError
        If there is no such space or berth, or the craft was not here then.
    """
    space = next((one for one in desk.yard.spaces if one.id == form.get("space", "")), None)
    if space is None:
        raise ActError("choose the space that it stands in now")
    berth = form.get("berth", "").strip().casefold()
    if berth and space.berths and berth not in space.berths:
        raise ActError(f"{plain(space.name)} has the berths {', '.join(space.berths)}")
    now = desk.clock.now()
    stay = Stay(craft=form.get("craft", ""), since=now, space=space.id, berth=berth, by=by)
    try:
        move(tx.layup, stay, now, _SOURCE)
    except (RecordError, ValueError) as error:
        raise ActError(words_of_error(error)) from error


def enter_turn(tx: Transaction, desk: YardDesk, form: Mapping[str, str], by: str) -> None:
    """Put on record that a craft went out, came back, or was handed over.

    Raises
    ------
    ActError
        If it cannot have: it is out already, or is back.
    """
    act = TURNS.get(form.get("turn", ""))
    if act is None:
        raise ActError("say what became of it")
    now = desk.clock.now()
    evidence = Evidence()
    if act is Act.BROUGHT_BACK and form.get("used"):
        evidence = Evidence(used_away=form["used"] == "yes")
    entry = LayupEntry(
        id="new", craft=form.get("craft", ""), at=now.replace(microsecond=0), by=by, act=act,
        evidence=evidence, note=form.get("note", "").strip()[:200],
    )  # fmt: skip
    entry = replace(entry, id=derived_id(entry))
    try:
        enter(tx.layup, [entry], desk.profiles, now, _SOURCE)
    except (RecordError, ValueError) as error:
        raise ActError(words_of_error(error)) from error


def words_of_error(error: Exception) -> str:
    """What is wrong and what to do, without the places in a file that the reader never saw."""
    if isinstance(error, RecordError):
        return " ".join(f"{one.problem}. {one.remedy}" for one in error.faults)
    return str(error)
