"""A throw-away PostgreSQL cluster, and in it a fresh database for each test that asks."""

import itertools
import json
import random
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

import psycopg
import pytest
from sqlalchemy import URL

from tests.real.need import need

# What runs inside pg_virtualenv: tell where the cluster is, then live until stdin is closed, which
# also happens when the test run is killed; pg_virtualenv then drops the cluster.
_INSIDE = """
import json, os, sys
print(json.dumps({name: os.environ[name] for name in
                  ("PGHOST", "PGPORT", "PGUSER", "PGPASSWORD", "PGDATABASE")}), flush=True)
sys.stdin.read()
"""


# Two that start at once may choose one port; pg_virtualenv then gives up.
_TRIES = 6


def _started_cluster(program: str, *options: str) -> tuple["subprocess.Popen[str]", dict[str, str]]:
    """A cluster and where it is."""
    said = ""
    for turn in range(_TRIES):
        time.sleep(turn * random.random())
        # -t: in a temporary folder even for root, so that two runs do not share one name.
        cluster = subprocess.Popen(
            [program, "-t", *options, sys.executable, "-c", _INSIDE],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert cluster.stdout is not None
        told = next((line for line in cluster.stdout if line.startswith("{")), None)
        if told is not None:
            return cluster, json.loads(told)
        said = cluster.communicate()[1]
    pytest.fail(f"pg_virtualenv made no cluster:\n{said[-2000:]}")


@contextmanager
def throw_away_cluster(*, outlives_power_cut: bool = True) -> Iterator[URL]:
    """A cluster while the block lasts; yields the address of its administrating database.

    One that need not outlive a cut of the power waits for no disk. It outlives its own kill.
    """
    options = [] if outlives_power_cut else ["-o", "fsync=off"]
    cluster, where = _started_cluster(need("pg_virtualenv", "postgresql"), *options)
    with cluster:
        assert cluster.stdin is not None
        yield URL.create(
            "postgresql+psycopg",
            username=where["PGUSER"],
            password=where["PGPASSWORD"],
            host=where["PGHOST"],
            port=int(where["PGPORT"]),
            database=where["PGDATABASE"],
        )
        cluster.stdin.close()
        cluster.wait(timeout=30)


@pytest.fixture(scope="session")
def postgres_cluster() -> Iterator[URL]:
    """A cluster for the whole run."""
    with throw_away_cluster(outlives_power_cut=False) as address:
        yield address


_numbers = itertools.count(1)


@pytest.fixture
def postgres(postgres_cluster: URL) -> Iterator[str]:
    """SQLAlchemy URL of an empty database of this test alone."""
    name = f"test_{next(_numbers)}"
    administrating = postgres_cluster.set(drivername="postgresql")
    address = administrating.render_as_string(hide_password=False)
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name} TEMPLATE template0 ENCODING 'UTF8'")
        yield postgres_cluster.set(database=name).render_as_string(hide_password=False)
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
