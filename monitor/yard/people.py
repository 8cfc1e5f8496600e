"""Who did it: people and helpers of the yard by id, however they are named."""

import difflib
import re
import unicodedata
from collections.abc import Mapping

from monitor.errors import BadValueError
from monitor.yard.space import Yard

_LONGEST_NAME = 80
_NO_ID = re.compile(r"[^a-z0-9]+")


def names_by_id(yard: Yard) -> dict[str, str]:
    """Everybody who may enter work: people who are told things, and helpers."""
    return {**yard.helpers, **{person.id: person.name for person in yard.people}}


def display_name(yard: Yard, person: str) -> str:
    """The name of somebody of the yard who is named by id; whatever else was written, as it is."""
    return names_by_id(yard).get(person, person)


def id_from(name: str) -> str:
    """A name as an id: small letters, digits and hyphens, ``yard`` where none of it can stay."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii")
    return _NO_ID.sub("-", plain.lower()).strip("-")[:63].strip("-") or "yard"


def person_id(said: str, names: Mapping[str, str]) -> str:
    """The id of a person who is named by id, by name, or by a part of the name that no other has.

    Parameters
    ----------
    said : str
        What somebody wrote; letter case and white space do not matter.
    names : mapping of str to str
        Names by id. Where it is empty, nobody is known and the text itself is the answer.

    Raises
    ------
    ValueError
        If it is nobody, or more than one; says who is near, and how to add a helper.
    """
    if not names or said in names:
        return said
    sought = said.casefold().split()
    found = [
        key
        for key, name in names.items()
        if sought in (name.casefold().split(), key.casefold().split())
    ] or [key for key, name in names.items() if sought and set(sought) <= set(_words_of(name))]
    if len(found) == 1:
        return found[0]
    if found:
        raise BadValueError(f"{said!r} may be {' or '.join(found)}", "write the id")
    meant = _nearest_id(said, names)
    ask = f"did you mean {meant} ({names[meant]})? If not, a" if meant else "a"
    if len(said) > _LONGEST_NAME:
        raise BadValueError(
            f"{said[:_LONGEST_NAME]!r}… is no name of a person: it has {len(said)} letters",
            f"write {_LONGEST_NAME} at most: the id or the name of somebody of the yard",
        )
    raise BadValueError(
        f"{said!r} is nobody of this yard",
        (
            f"{ask} helper is one line under [helpers] in the yard's file:"
            f' {_id_of(said)} = "{said}"'
        ),
    )


def _nearest_id(said: str, names: Mapping[str, str]) -> str:
    """The id of whoever is written much like it; empty where nobody is."""
    ids = {**{name.casefold(): key for key, name in names.items()}, **{key: key for key in names}}
    near = difflib.get_close_matches(said.casefold(), list(ids), n=1, cutoff=0.7)
    return ids[near[0]] if near else ""


def check_witness(by: str, witness: str, names: Mapping[str, str]) -> None:
    """Refuse a witness who is the worker, or who cannot be told from the worker by name.

    Parameters
    ----------
    by, witness : str
        Ids, or names of people whom the yard does not know.
    names : mapping of str to str
        Names by id.

    Raises
    ------
    BadValueError
        If both are one id, or have one name: two entries of one person prove nothing more.
    """
    worker, other = (_words_of(names.get(said, said)) for said in (by, witness))
    if witness and worker == other:
        raise BadValueError(
            f"{witness!r} did the work, or has the same name, and is no witness of it",
            "name another person who saw it, or leave the witness out",
        )


def _words_of(name: str) -> list[str]:
    return name.casefold().split()


def _id_of(name: str) -> str:
    plain = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in name.lower())
    return "-".join(part for part in plain.split("-") if part)[:63] or "helper"
