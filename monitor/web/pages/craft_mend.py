"""What is known of a craft put right at its page under the yard: by whom, when, and taken back."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from typing import Any

from monitor.craft.craft_stays import Craft
from monitor.craft.layup import ONE_LINE, SEVERAL_LINES
from monitor.craft.links import CraftVersion, craft_versions
from monitor.craft.profile import Profile
from monitor.craft.revising import craft_changes, lost_circuits
from monitor.errors import ActError, RecordError
from monitor.phrases.names import plain, sensor_label
from monitor.store.store import Transaction
from monitor.web.access.end_access import end_access_of_former_owner
from monitor.web.pages.yard_craft import words_of_error
from monitor.web.pages.yard_desk import YardDesk
from monitor.web.pages.yard_forms import edits_of
from monitor.wording import Wording
from monitor.yard.people import id_from, names_by_id
from monitor.yard.yard_change import ItemEdit, YardPart

_MENDED = ("name", "owner", "hull_number", "note", "profile")
_LONGEST = {"name": 80, "hull_number": 20, "note": 2000}  # letters, as a craft file may have them
_CALLED = {"name": "name", "hull_number": "hull number", "note": "note"}
NEW_OWNER = "(new)"  # no id: chosen where the owner is nobody of the yard yet


@dataclass(frozen=True, slots=True, kw_only=True)
class MendPage:
    """What the template shows."""

    craft: Craft
    version: int  # number of the newest version, which a form changes or else is refused
    said: Mapping[str, str]  # of each field what its form holds
    kind: str
    why_type_stays: str  # empty: it may be changed
    changes: tuple[tuple[datetime, str, tuple[str, ...]], ...]  # when, by whom, what; newest first
    can_go_back: bool
    owners: tuple[tuple[str, str], ...]
    kinds: tuple[tuple[str, str], ...]


def read_mend_page(desk: YardDesk, craft_id: str, form: Mapping[str, str]) -> MendPage | None:
    """What is known of a craft and how it came to be; None if there is no such craft.

    Parameters
    ----------
    desk : YardDesk
    craft_id : str
    form : mapping of str to str
        What was sent and is not taken; empty: the form holds what is on record.
    """
    with desk.store.snapshot() as tx:
        craft = tx.layup.craft_by_id(craft_id)
        if craft is None:
            return None
        versions = craft_versions(tx.layup.links_of(craft_id))
        why = _why_type_stays(tx, desk, craft)
    names = names_by_id(desk.yard)
    told = [
        (one.at, plain(names.get(one.by, one.by or "the craft file")),
         _lines_of(before.craft, one.craft, names, desk.profiles))
        for before, one in pairwise(versions)
        if one.at is not None
    ]  # fmt: skip
    owners = {one.id: plain(one.name) for one in desk.yard.people}
    if craft.owner:  # who may have left the yard's file
        owners.setdefault(craft.owner, plain(names.get(craft.owner, craft.owner)))
    kinds = {key: one.name for key, one in desk.profiles.items()}
    return MendPage(
        craft=craft,
        version=versions[-1].number if versions else -1,
        said={name: form.get(name, str(getattr(craft, name))) for name in _MENDED}
        | {name: form.get(name, "") for name in ("owner_name", "owner_mail")},
        kind=kinds.get(craft.profile, craft.profile),
        why_type_stays=why,
        changes=tuple(reversed(told)),
        can_go_back=len(versions) > 1 and _taken_back(versions) != craft,
        owners=tuple(sorted(owners.items(), key=lambda one: one[1].casefold())),
        kinds=tuple(sorted(kinds.items(), key=lambda one: one[1].casefold())),
    )


def mend_craft(
    tx: Transaction, desk: YardDesk, form: Mapping[str, str], by: str, words: Wording
) -> bool:
    """Put on record what is known of a craft now; tells whether the yard has a new person by it.

    The craft's chain says who wrote it and when. Where the owner is another one, what let the
    former one's guests in ends, and the former one hears no more of it.

    Raises
    ------
    ActError
        If it cannot be so, or somebody else has changed it since the form was made.
    """
    craft = tx.layup.craft_by_id(form.get("craft", ""))
    if craft is None:
        raise ActError("there is no such craft; open the page again")
    versions = craft_versions(tx.layup.links_of(craft.id))
    if form.get("version", "") != str(versions[-1].number if versions else -1):
        raise ActError("somebody changed this craft meanwhile; look at it as it is now")
    edits: list[ItemEdit] = []
    if form.get("back"):
        after = _taken_back(versions) if len(versions) > 1 else craft
    else:
        if form.get("owner") == NEW_OWNER:
            edits = [_new_owner(desk, form, words)]
        after = _as_typed(craft, form, edits)
    if after == craft:
        raise ActError("nothing of it is otherwise than on record")
    _refuse_unfit(tx, desk, craft, after, {one.key for one in edits})
    made = desk.book.change_within(tx, edits, by) if edits else ()
    now = desk.clock.now()
    try:
        tx.layup.put_craft([after], now, by)
    except (RecordError, ValueError) as error:
        raise ActError(words_of_error(error)) from error
    if craft.owner and craft.owner != after.owner:
        end_access_of_former_owner(tx, craft.id, craft.owner, now, by)
    return bool(made)


def _as_typed(craft: Craft, form: Mapping[str, str], edits: Sequence[ItemEdit]) -> Craft:
    said: dict[str, Any] = {name: _text_of(form, name) for name in _LONGEST if name in form}
    if "hull_number" in said:
        said["hull_number"] = said["hull_number"].upper()
    if "owner" in form:
        said["owner"] = edits[0].key if edits else form["owner"]
    if form.get("profile"):
        said["profile"] = form["profile"]
    return replace(craft, **said)


def _text_of(form: Mapping[str, str], name: str) -> str:
    text, most = form[name].replace("\r\n", "\n").strip(), _LONGEST[name]
    if not text and name == "name":
        raise ActError("name: it is empty; write what people call the craft")
    if len(text) > most:
        raise ActError(f"{_CALLED[name]}: it has {len(text)} letters; write {most} at most")
    if not re.search(SEVERAL_LINES if name == "note" else ONE_LINE, text):
        raise ActError(
            f"{_CALLED[name]}: it holds line breaks, control characters or marks that turn the"
            " direction of writing; write it again by hand"
        )
    return text


def _new_owner(desk: YardDesk, form: Mapping[str, str], words: Wording) -> ItemEdit:
    name, mail = form.get("owner_name", "").strip(), form.get("owner_mail", "").strip()
    if not (name and mail):
        raise ActError("owner: write name and mail address of the new owner")
    known = next((one for one in desk.yard.people if one.mail.casefold() == mail.casefold()), None)
    if known is not None:
        raise ActError(f"owner: {mail} is {plain(known.name)}'s; choose {plain(known.name)}")
    person = {"key": "", "name": name, "mail": mail, "roles": "asked", "role-owner": "yes"}
    [edit] = edits_of(YardPart.PEOPLE, person, desk.book.read_items(), words, id_from)
    return edit


def _refuse_unfit(
    tx: Transaction, desk: YardDesk, craft: Craft, after: Craft, new: set[str]
) -> None:
    """Refuse a name that another has, an owner whom nobody knows, a type that work rests on."""
    if after.name != craft.name:
        for key, name in tx.layup.craft_names().items():
            if key != craft.id and _as_heard(name) == _as_heard(after.name):
                raise ActError(
                    f"name: {plain(name)} is another craft's; say what tells the two apart, as its"
                    " berth or its owner does"
                )
    people = {one.id for one in desk.yard.people} | new | {"", craft.owner}
    if after.owner not in people:
        raise ActError("owner: that is nobody of this yard; choose one of the list, or a new one")
    if after.profile == craft.profile:
        return
    if why := _why_type_stays(tx, desk, craft):
        raise ActError(f"type: {why}")
    if after.profile not in desk.profiles:
        raise ActError("type: there is no such type; choose one of the list")
    if lost := lost_circuits(craft, after, (), desk.profiles, "page"):
        raise ActError(words_of_error(RecordError(lost)))


def _why_type_stays(tx: Transaction, desk: YardDesk, craft: Craft) -> str:
    """Why a craft's type cannot be changed; empty where nothing rests on it."""
    count = len(tx.layup.entries_of(craft.id))
    if count:
        entries = "1 entry" if count == 1 else f"{count} entries"
        return (
            f"its record holds work ({entries}) on the circuits of this type; under another type it"
            " would vouch for what nobody did"
        )
    hung = next((one for one in desk.yard.sensors if one.craft == craft.id), None)
    if hung is not None:
        return f"sensor {sensor_label(hung.name)} hangs on it; hang it elsewhere first"
    return ""


def _taken_back(versions: Sequence[CraftVersion]) -> Craft:
    """The craft with what the newest version changed as it was before."""
    before, now = versions[-2].craft, versions[-1].craft
    return replace(now, **{name: getattr(before, name) for name in _MENDED})


def _lines_of(
    before: Craft, after: Craft, names: Mapping[str, str], profiles: Mapping[str, Profile]
) -> tuple[str, ...]:
    called = {**names, **{key: one.name for key, one in profiles.items()}}
    return tuple(
        f"{one.what}: {_value(one.before, called)} → {_value(one.after, called)}"
        for one in craft_changes(before, after)
    )


def _value(said: str, called: Mapping[str, str]) -> str:
    return plain(called.get(said, said)) if said else "nothing"


def _as_heard(name: str) -> str:
    """A name as people hear it: whatever its capitals, spaces and forms of letters are."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())
