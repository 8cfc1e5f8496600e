"""What every test may ask for: the real parts of tests/real/. And what properties are tried on."""

import os

from hypothesis import settings

pytest_plugins = [
    "tests.real.broker",
    "tests.real.chromium",
    "tests.real.embedded",
    "tests.real.mail_server",
    "tests.real.postgres",
    "tests.real.stores",
]

# A commit is tried on the same examples each time, so that a failure is of that commit; many new
# ones are tried at night, by whoever has the time to follow what they find.
settings.register_profile("commit", derandomize=True, deadline=None)
settings.register_profile("nightly", deadline=None, print_blob=True, max_examples=2000)
settings.load_profile(os.environ.get("PROPERTIES", "commit"))
