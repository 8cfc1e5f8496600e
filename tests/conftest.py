"""What every test may ask for: the real parts of tests/real/."""

pytest_plugins = [
    "tests.real.broker",
    "tests.real.chromium",
    "tests.real.embedded",
    "tests.real.mail_server",
    "tests.real.postgres",
]
