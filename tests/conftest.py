"""What every test may ask for: the real parts of tests/real/. And what properties are tried on."""

from hypothesis import settings

from tests.tried import PROFILE

pytest_plugins = [
    "tests.real.broker",
    "tests.real.chromium",
    "tests.real.embedded",
    "tests.real.mail_server",
    "tests.real.postgres",
    "tests.real.stores",
    "tests.real.yard_broker",
]

# A test that needs a number of its own says it with `tried`, so that the night has more of it.
settings.register_profile("commit", derandomize=True, deadline=None, max_examples=30)
settings.register_profile("nightly", deadline=None, print_blob=True, max_examples=2000)
settings.load_profile(PROFILE)
