"""A yard's API as programs meet it: through keys, over a real store."""

from dataclasses import replace
from datetime import UTC

import pytest
from fastapi.testclient import TestClient

from monitor.clock import ReadingsClock
from monitor.judgement.inputs import CraftInCare
from monitor.store.taking_in import take_in
from monitor.web.access.people_access import PeopleAccess
from monitor.web.api.layup import layup_router
from monitor.web.app import create_app
from monitor.web.metrics import metrics_router
from monitor.wording import Wording
from monitor.yard.health import HealthAccount
from monitor.yard.space import Role
from tests.craft import scene
from tests.craft.scene import EVE, SHELTERS, library, twelve
from tests.reports import kettlemoss
from tests.web.access.scene import give_key
from tests.web.yard_book import book_of


class ApiScene:
    """The whole app of a yard with twelve craft on record, and a program with a key."""

    def __init__(self, store):
        self.store = store
        yard = kettlemoss.yard()
        owners = [one for one in scene.yard().people if Role.OWNER in one.roles]
        self.yard = replace(yard, people=(*yard.people, *owners))
        self.clock = ReadingsClock(max(kettlemoss.KETTLEMOSS_NOW, EVE.astimezone(UTC)))
        with store.transaction() as tx:
            take_in(tx.layup, twelve().values(), library(), self.clock.now())
        self.reader = give_key(store, "reader", "R" * 43)
        self.mechanic = give_key(store, "mechanic", "M" * 43)
        self.operator = give_key(store, "operator", "O" * 43)
        clock, yard = self.clock, self.yard
        self.craft = CraftInCare(store, library(), yard, clock)
        self.app = create_app(
            store,
            yard,
            clock,
            self.craft.read_now,
            access=PeopleAccess(store, yard, clock, self.craft.read_now),
            layup=layup_router(store, library(), SHELTERS, clock, Wording(zone=yard.zone), yard),
            metrics=metrics_router(
                store, yard, clock, self.craft.read_now, lambda: HealthAccount(at=clock.now())
            ),
            profiles=library(),
            book=book_of(store, yard, clock, self.craft.read_now),
        )
        self.web = TestClient(self.app)

    def get(self, path, **more):
        return self.web.get(path, headers=self.reader | more.pop("headers", {}), **more)

    def pages(self, path, key, **parameters):
        """What all pages of a list hold, one after the other, as a program would follow them."""
        answer = self.get(path, params=parameters)
        while True:
            assert answer.status_code == 200, answer.text
            yield answer.json()[key]
            link = answer.headers.get("link")
            if link is None:
                return
            target, _, relation = link.partition(">; ")
            assert relation == 'rel="next"'
            answer = self.get(path + target.removeprefix("<"))


@pytest.fixture
def api(store):
    return ApiScene(store)
