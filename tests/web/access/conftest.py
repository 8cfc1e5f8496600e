"""What tests of access share: hashing at the least cost, for what is tried is the way in."""

import pytest
from argon2 import profiles

from monitor.web.access import passwords


@pytest.fixture(autouse=True)
def _cheap_hashing(monkeypatch):
    monkeypatch.setattr(passwords, "COSTS", profiles.CHEAPEST)
