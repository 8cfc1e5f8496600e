"""One played night for all tests that only look; those that write play their own."""

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from monitor.web.app import create_app
from monitor.web.server import PageServer
from tests.web.played_night import PlayedNight, copy_night, play_night

# Names as only a prankster, or a person who writes from right to left, gives them.
NASTY = '<script>alert("x")</script>'
RIGHT_TO_LEFT = "ברבור השלישי"  # the record refuses marks that turn the direction
EMOJI = "Duck 🦆 of the lake"


@pytest.fixture(scope="session")
def evening(tmp_path_factory) -> Iterator[PlayedNight]:
    """The evening of the first hard night; nobody writes into its store."""
    played = play_night(tmp_path_factory.mktemp("evening"))
    yield played
    played.store.close()


@pytest.fixture
def own_evening(evening, tmp_path) -> Iterator[PlayedNight]:
    """The same evening for one test, which may write."""
    played = copy_night(evening, tmp_path)
    yield played
    played.store.close()


def app_of(played: PlayedNight, **changed):
    """The yard's web over its store."""
    return create_app(
        played.store, played.settings.yard, played.clock, played.craft.read_now,
        profiles=played.settings.profiles, **changed,
    )  # fmt: skip


@pytest.fixture
def browse(evening) -> Iterator[TestClient]:
    """A client of the evening's pages."""
    with TestClient(app_of(evening), base_url="http://127.0.0.1") as client:
        yield client


@pytest.fixture(scope="session")
def address(evening) -> Iterator[str]:
    """Where a browser finds the evening's pages."""
    server = PageServer(app_of(evening))
    yield server.start()
    server.stop()
