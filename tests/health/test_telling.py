"""The running daemon tells its account to other processes, and only while it runs."""

from datetime import UTC, datetime

import pytest

from monitor.health.telling import AccountSocket, account_socket, ask_daemon
from monitor.yard.health import HealthAccount, HealthFault, HealthFaultKind

NOW = datetime(2026, 11, 14, 22, tzinfo=UTC)
ACCOUNT = HealthAccount(
    at=NOW,
    faults=(
        HealthFault(
            kind=HealthFaultKind.DISK,
            is_grave=True,
            what="It is full.",
            remedy="Make room.",
            since=NOW,
        ),
    ),
    judged_at=NOW,
)


@pytest.mark.parametrize("folder", ["yard", "deep/" * 30], ids=["short", "longer than a socket's"])
def test_the_account_is_told_as_it_is_and_nobody_answers_after_the_end(tmp_path, folder):
    path = tmp_path / folder / "laidup.db-watch"
    path.parent.mkdir(parents=True)
    assert ask_daemon(path) is None
    telling = AccountSocket(path, lambda: ACCOUNT)
    telling.start()
    assert ask_daemon(path) == ACCOUNT
    telling.stop()
    assert ask_daemon(path) is None


def test_what_a_killed_daemon_left_behind_is_no_answer_and_no_hindrance(tmp_path):
    path = tmp_path / "laidup.db-watch"
    killed = AccountSocket(path, lambda: ACCOUNT)
    killed.start()
    killed._stopping.set()
    killed._thread.join()
    killed._line.close()  # as the kernel does; its file stays
    assert path.exists()
    assert ask_daemon(path) is None
    after = AccountSocket(path, lambda: ACCOUNT)
    after.start()
    assert ask_daemon(path) == ACCOUNT
    after.stop()


def test_a_second_daemon_leaves_the_first_its_place(tmp_path, caplog):
    path = tmp_path / "laidup.db-watch"
    first = AccountSocket(path, lambda: ACCOUNT)
    second = AccountSocket(path, lambda: HealthAccount(at=NOW))
    first.start()
    second.start()
    second.stop()
    assert "another laidup runs on the same store" in caplog.text
    assert ask_daemon(path) == ACCOUNT
    first.stop()


def test_an_account_that_cannot_be_made_ends_nothing(tmp_path):
    path, accounts = tmp_path / "laidup.db-watch", [lambda: 1 / 0, lambda: ACCOUNT]
    telling = AccountSocket(path, lambda: accounts.pop(0)())
    telling.start()
    assert ask_daemon(path) is None
    assert ask_daemon(path) == ACCOUNT
    telling.stop()


def test_it_stands_beside_the_store_or_beside_the_yards_file(tmp_path):
    yard = tmp_path / "yard.toml"
    file = f"sqlite:///{tmp_path}/laidup.db"
    assert account_socket(file, yard) == tmp_path / "laidup.db-watch"
    assert account_socket("postgresql://host/db", yard) == tmp_path / "yard.watch"
