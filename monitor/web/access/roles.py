"""Who may do what: the one table of roles and rights."""

from collections.abc import Iterable
from enum import StrEnum

from monitor.yard.space import Role


class Right(StrEnum):
    """One thing that somebody may do or see."""

    READ_YARD = "read all of the yard"
    READ_CRAFT = "read a craft"  # those of the visitor; of all where the visitor has the yard
    ACT_ON_ALARMS = "act on alarms"  # acknowledge, shelve, take out of service
    ENTER_WORK = "enter work"
    CORRECT_WORK = "correct or take back work"
    TELL_YARD = "tell the yard about the own craft"  # "I collect it on ...", "I ran it"
    CHANGE_YARD = "change the yard: spaces, sensors, people, shelf, craft by list"
    ADMIT_OTHERS = "make and withdraw links and keys"
    KEEP_OWN_ACCOUNT = "change the own password, sign out"


# Of whoever is signed in alone: a key or a link never makes another one.
SIGNED_IN_ONLY = frozenset({Right.ADMIT_OTHERS, Right.KEEP_OWN_ACCOUNT})


class AccessRole(StrEnum):
    """As what somebody is here."""

    OPERATOR = "operator"
    MECHANIC = "mechanic"
    READER = "reader"  # a program or a screen that only looks
    OWNER = "owner"
    THIRD_PARTY = "third party"  # whom an owner lets see one craft, for a time
    STRANGER = "stranger"


RIGHTS: dict[AccessRole, frozenset[Right]] = {
    AccessRole.OPERATOR: frozenset(Right) - {Right.TELL_YARD},
    AccessRole.MECHANIC: frozenset(
        {
            Right.READ_YARD,
            Right.READ_CRAFT,
            Right.ACT_ON_ALARMS,
            Right.ENTER_WORK,
            Right.CORRECT_WORK,
            Right.KEEP_OWN_ACCOUNT,
        }
    ),
    AccessRole.READER: frozenset({Right.READ_YARD, Right.READ_CRAFT}),
    AccessRole.OWNER: frozenset({Right.READ_CRAFT, Right.TELL_YARD, Right.KEEP_OWN_ACCOUNT}),
    AccessRole.THIRD_PARTY: frozenset({Right.READ_CRAFT}),
    AccessRole.STRANGER: frozenset(),
}

# The first of a person's roles that stands here is the one they have on the page.
_BY_WEIGHT = (
    (Role.OPERATOR, AccessRole.OPERATOR),
    (Role.MECHANIC, AccessRole.MECHANIC),
    (Role.OWNER, AccessRole.OWNER),
)


def access_role_of(roles: Iterable[Role]) -> AccessRole:
    """The role on the page of a person with these roles in the yard's file."""
    has = frozenset(roles)
    return next((here for role, here in _BY_WEIGHT if role in has), AccessRole.STRANGER)
