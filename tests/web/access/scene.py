"""A page at which people sign in: a store, its people, and keys and links that tests know."""

from datetime import UTC, datetime, timedelta

from fastapi.testclient import TestClient

from monitor.alarms.acts.answers import Answers
from monitor.clock import ReadingsClock
from monitor.store.page_grants import Grant, GrantKind
from monitor.web.access.people_access import PeopleAccess
from monitor.web.access.sessions import digest_of_secret
from monitor.web.api_layup import layup_router
from monitor.web.app import create_app
from monitor.web.metrics import metrics_router
from monitor.wording import Wording
from monitor.yard.health import HealthAccount
from tests.craft.scene import library
from tests.reports import kettlemoss

ADDRESS = "https://watch.yard.example"
SECRET = "A" * 43
KEY = f"laidup-key-{SECRET}"
PASSWORD = "four cold words apart"


def give_key(store, role="mechanic", secret=SECRET, now=None):
    """Keep a key that the test knows; the header that shows it."""
    made = now or datetime(2020, 1, 1, tzinfo=UTC)
    grant = Grant(
        id=f"key-{secret[:8]}",
        digest=digest_of_secret(secret),
        kind=GrantKind.KEY,
        role=role,
        name=f"test {secret[:8]}",
        made_by="test",
        made_at=made,
    )
    with store.transaction() as tx:
        tx.page_grants.add(grant)
    return {"Authorization": f"Bearer laidup-key-{secret}"}


class SignInScene:
    """The whole page of a yard whose people sign in."""

    def __init__(self, store, yard=None, craft=(), address=ADDRESS):
        self.store = store
        self.yard = yard or kettlemoss.yard()
        self.clock = ReadingsClock(kettlemoss.KETTLEMOSS_NOW)
        self.craft = list(craft)
        self.access = PeopleAccess(
            store,
            self.yard,
            self.clock,
            lambda: self.craft,
            https_outside=(address or "").startswith("https"),
        )
        clock, yard = self.clock, self.yard
        self.app = create_app(
            store,
            yard,
            clock,
            lambda: self.craft,
            answers=Answers(store, clock, f"{address}/answer"),
            layup=layup_router(store, library(), {}, clock, Wording(zone=yard.zone), yard),
            metrics=metrics_router(
                store, yard, clock, lambda: self.craft, lambda: HealthAccount(at=clock.now())
            ),
            access=self.access,
            address=address,
        )

    def browser(self, address=ADDRESS):
        """A browser of its own, with its own cookies, that follows nothing by itself."""
        return TestClient(self.app, base_url=address, follow_redirects=False)

    def after(self, **span):
        self.clock.advance_to(self.clock.now() + timedelta(**span))
