"""A page at which people sign in: a store, its people, and keys and links that tests know."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from fastapi.testclient import TestClient

from monitor.alarms.acts.answers import Answers
from monitor.clock import ReadingsClock
from monitor.judgement.inputs import CraftInCare
from monitor.store.page_grants import Grant, GrantKind
from monitor.store.taking_in import take_in
from monitor.web.access.people_access import PeopleAccess
from monitor.web.access.sessions import digest_of_secret
from monitor.web.api.layup import layup_router
from monitor.web.app import create_app
from monitor.web.metrics import metrics_router
from monitor.wording import Wording
from monitor.yard.health import HealthAccount
from monitor.yard.space import Person, Role
from tests.craft.scene import library
from tests.reports import kettlemoss
from tests.web.yard_book import book_of

# Two owners of one craft each, of the demo's twelve.
OWNERS = tuple(
    Person(id=one, name=name, mail=f"{one}@lake.example", roles=frozenset({Role.OWNER}))
    for one, name in (("owner-k01", "Rosa Lindqvist"), ("owner-k02", "Abel Marsh"))
)
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


def yard_with(*people):
    """The yard of the tests of reports, with more people."""
    yard = kettlemoss.yard()
    return replace(yard, people=(*yard.people, *people))


class SignInScene:
    """The whole page of a yard whose people sign in."""

    def __init__(self, store, yard=None, *, records=(), address=ADDRESS, fill=True):
        self.store = store
        self.yard = yard or kettlemoss.yard()
        self.clock = ReadingsClock(kettlemoss.KETTLEMOSS_NOW)
        if fill:
            with store.transaction() as tx:
                take_in(tx.layup, records, library(), self.clock.now())
        craft = CraftInCare(store, library(), self.yard, self.clock).read_now
        self.access = PeopleAccess(
            store,
            self.yard,
            self.clock,
            craft,
            https_outside=(address or "").startswith("https"),
        )
        clock, yard = self.clock, self.yard
        self.app = create_app(
            store,
            yard,
            clock,
            craft,
            answers=Answers(store, clock, f"{address}/answer"),
            layup=layup_router(store, library(), {}, clock, Wording(zone=yard.zone), yard),
            metrics=metrics_router(
                store, yard, clock, craft, lambda: HealthAccount(at=clock.now())
            ),
            access=self.access,
            address=address,
            profiles=library(),
            book=book_of(store, yard, clock, craft),
        )

    def browser(self, address=ADDRESS):
        """A browser of its own, with its own cookies, that follows nothing by itself."""
        return TestClient(self.app, base_url=address, follow_redirects=False)

    def after(self, **span):
        self.clock.advance_to(self.clock.now() + timedelta(**span))
