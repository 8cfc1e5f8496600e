"""A database whose three roles have the rights that deploy/ gives them, for tests and drills."""

from pathlib import Path
from typing import NamedTuple

import psycopg
from sqlalchemy import make_url

from monitor.store.migrate import migrate

RIGHTS = Path(__file__).parents[2] / "deploy" / "postgresql" / "rights.sql"
_PASSWORD = "only-for-tests"


class Roles(NamedTuple):
    """The address of one store, as each role opens it."""

    administrator: str
    owner: str
    daemon: str
    reader: str


def give_rights(url: str) -> None:
    """Run the file as its first lines say: as the administrator, in laidup's own database."""
    address = make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(RIGHTS.read_text(encoding="utf-8"))


def roles_of(url: str) -> Roles:
    """Addresses by which the roles open an administrator's database; they exist afterwards."""
    give_rights(url)
    administrator = make_url(url)
    address = administrator.set(drivername="postgresql").render_as_string(hide_password=False)
    names = [f"laidup_{role}" for role in Roles._fields[1:]]
    with psycopg.connect(address, autocommit=True) as connection:
        for name in names:
            connection.execute(f"ALTER ROLE {name} PASSWORD '{_PASSWORD}'")
    return Roles(
        url,
        *(
            administrator.set(username=name, password=_PASSWORD).render_as_string(
                hide_password=False
            )
            for name in names
        ),
    )


def store_with_rights(url: str) -> Roles:
    """An empty database as a yard sets it up: rights, tables by their owner, rights again."""
    roles = roles_of(url)
    migrate(roles.owner)
    give_rights(url)
    return roles
