"""Who writes into the record: named by a flag, else the person who runs the command."""

import getpass

from monitor.errors import Fault, RecordError, fault_from
from monitor.yard.people import names_by_id, person_id
from monitor.yard.space import Yard

WHO_WRITES = "who puts it right (the user of this machine, where the yard knows that name)"


def author_of(said: str | None, yard: Yard, source: str, flag: str) -> str:
    """The id of the person who writes.

    Parameters
    ----------
    said : str or None
        What the flag named; None: the user of this machine, if the yard's file knows that name.
    yard : Yard
        Whose people may write.
    source, flag : str
        What an error names as the place of the slip.

    Raises
    ------
    RecordError
        If nobody of the yard is meant.
    """
    names = names_by_id(yard)
    if said is not None:
        try:
            return person_id(said, names)
        except ValueError as error:
            raise RecordError([fault_from(error, source, flag)]) from error
    user = user_of_machine()
    if (person := person_or_none(user, yard)) is not None:
        return person
    problem = "it is missing"
    if user:
        problem += f", and {user!r}, who runs this, is nobody of this yard"
    known = ", ".join(names) or "nobody yet: add a [[people]] block"
    remedy = f"Say who with {flag}: {known}."
    raise RecordError([Fault(file=source, key=flag, problem=problem, remedy=remedy)])


def person_or_none(name: str, yard: Yard) -> str | None:
    """The id of the person of that very name or id; None where the yard has none, or several."""
    sought = name.casefold()
    found = [
        key
        for key, called in names_by_id(yard).items()
        if sought in (key.casefold(), called.casefold())
    ]
    return found[0] if len(found) == 1 else None


def user_of_machine() -> str:
    """Name of the user who runs the command; empty where there is none, as in some containers."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return ""
