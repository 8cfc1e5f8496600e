"""What is kept of a password, and how many are worked out at once."""

import os
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from threading import Event, Lock

import pytest
from argon2 import PasswordHasher, extract_parameters, profiles
from argon2.low_level import Type
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import BadValueError
from monitor.web.access import passwords
from monitor.web.access.callers import Allowance, SignInPace, address_group
from monitor.web.access.passwords import (
    LEAST_LENGTH,
    MOST_LENGTH,
    Passwords,
    PasswordsBusyError,
    fit_password,
)
from tests.tried import tried


def test_what_is_kept_has_the_costs_that_rfc_9106_asks_for(monkeypatch):
    # RFC 9106, section 4, second recommended option: argon2id, t=3, p=4, m=2^16 KiB, 128-bit salt,
    # 256-bit tag.
    monkeypatch.setattr(passwords, "COSTS", profiles.RFC_9106_LOW_MEMORY)
    kept = Passwords().hash_password("four cold words apart")
    found = extract_parameters(kept)
    assert (found.type, found.time_cost, found.parallelism) == (Type.ID, 3, 4)
    assert (found.memory_cost, found.salt_len, found.hash_len) == (2**16, 16, 32)


def test_one_password_is_never_kept_as_the_same_text_twice():
    hasher = Passwords()
    assert hasher.hash_password("four cold words apart") != hasher.hash_password(
        "four cold words apart"
    )


@pytest.mark.parametrize("kept", [None, "", "no hash", "$argon2id$v=19$m=8,t=1,p=1$x$y", "\ud800"])
def test_nothing_that_is_no_hash_lets_anybody_in(kept):
    assert not Passwords().is_password(kept, "four cold words apart")
    assert not Passwords().is_password(kept, "")


def test_a_keyboard_that_writes_letters_another_way_gets_in_all_the_same():
    # U+00E9, and U+0065 with U+0301: one text by NFKC (Unicode annex 15).
    hasher = Passwords()
    kept = hasher.hash_password(fit_password("caf\u00e9 under cold rain"))
    assert hasher.is_password(kept, "cafe\u0301 under cold rain")


@settings(max_examples=tried(60), deadline=None)
@given(written=st.text(max_size=MOST_LENGTH + 5))
def test_a_password_is_taken_only_if_it_is_long_enough_and_then_opens(written):
    try:
        fit = fit_password(written)
    except BadValueError:
        return
    assert LEAST_LENGTH <= len(fit) <= MOST_LENGTH
    try:
        kept = Passwords().hash_password(fit)
    except UnicodeEncodeError:
        pytest.fail("a password that is taken can be kept")
    assert Passwords().is_password(kept, written)


def test_few_are_worked_out_at_once(monkeypatch):
    lock, running, most = Lock(), 0, 0
    real = PasswordHasher.verify

    def counted(self, kept, written):
        nonlocal running, most
        with lock:
            running += 1
            most = max(most, running)
        try:
            return real(self, kept, written)
        finally:
            with lock:
                running -= 1

    monkeypatch.setattr(PasswordHasher, "verify", counted)
    hasher = Passwords()
    kept = hasher.hash_password("four cold words apart")
    with ThreadPoolExecutor(8) as hands:
        assert all(
            hands.map(lambda _: hasher.is_password(kept, "four cold words apart"), range(40))
        )
    assert most == 1


class Seconds:
    def __init__(self):
        self.now = 1000.0

    def __call__(self):
        return self.now


def test_tries_come_back_one_by_one():
    seconds = Seconds()
    allowance = Allowance(3, 10.0, seconds)
    assert [allowance.take_try("a") for _ in range(4)] == [0.0, 0.0, 0.0, 10.0]
    assert allowance.take_try("b") == 0.0
    seconds.now += 10.0
    assert [allowance.take_try("a") for _ in range(2)] == [0.0, 10.0]
    seconds.now += 3600.0
    assert [allowance.take_try("a") for _ in range(4)] == [0.0, 0.0, 0.0, 10.0]


@settings(max_examples=tried(60))
@given(steps=st.lists(st.floats(min_value=0.0, max_value=30.0), min_size=1, max_size=200))
def test_a_guesser_gets_no_more_than_the_allowance_and_nobody_waits_longer_than_one_step(steps):
    seconds = Seconds()
    allowance, given_ = Allowance(5, 10.0, seconds), 0
    for step in steps:
        seconds.now += step
        wait_s = allowance.take_try("a")
        assert 0.0 <= wait_s <= 10.0
        given_ += wait_s == 0.0
    assert given_ <= 5 + sum(steps) / 10.0 + 1e-6


def test_from_many_places_one_person_is_guessed_at_slowly_and_gets_in_from_a_known_one():
    seconds = Seconds()
    pace = SignInPace(seconds)
    guesses = [pace.wait_before_try("ines", f"192.0.2.{n}") for n in range(200)]
    assert guesses.count(0.0) == 20
    assert pace.wait_before_try("ines", "198.51.100.7") > 0
    assert pace.wait_before_try("ines", "198.51.100.7", lambda: True) == 0
    assert pace.wait_before_try("tobin", "198.51.100.8") == 0, "others are not held up"


def test_a_household_counts_as_one_caller():
    # RFC 4291, 2.5.4: the last 64 bits of an address are the interface's own.
    assert address_group("2001:db8:1:2:aaaa::1") == address_group("2001:db8:1:2:ffff::9")
    assert address_group("2001:db8:1:2::1") != address_group("2001:db8:1:3::1")
    assert address_group("::ffff:192.0.2.7") == address_group("192.0.2.7")
    assert address_group("testclient") == "testclient"


def test_what_is_kept_of_callers_is_bounded():
    allowance = Allowance(1, 1e9)
    for n in range(30_000):
        allowance.take_try(str(n))
    assert len(allowance._full_at) <= 20_000


@pytest.mark.skipif(sys.platform != "linux", reason="a thread's own priority is Linux's")
def test_passwords_are_worked_out_behind_all_else(monkeypatch):
    real, seen = PasswordHasher.verify, []

    def noted(self, kept, written):
        seen.append(os.getpriority(os.PRIO_PROCESS, threading.get_native_id()))
        return real(self, kept, written)

    monkeypatch.setattr(PasswordHasher, "verify", noted)
    ours = os.getpriority(os.PRIO_PROCESS, threading.get_native_id())
    hasher = Passwords()
    kept = hasher.hash_password("four cold words apart")
    assert hasher.is_password(kept, "four cold words apart")
    assert seen == [10]
    assert os.getpriority(os.PRIO_PROCESS, threading.get_native_id()) == ours


def test_whoever_waits_too_long_for_a_place_is_told_so_and_the_next_one_gets_in(monkeypatch):
    monkeypatch.setattr(passwords, "_WAIT_S", 0.05)
    hasher, go_on = Passwords(), Event()
    kept = hasher.hash_password("four cold words apart")
    monkeypatch.setattr(PasswordHasher, "verify", lambda *_: go_on.wait(30))
    with ThreadPoolExecutor(1) as first:
        held = first.submit(hasher.is_password, kept, "four cold words apart")
        while hasher._places.acquire(blocking=False):  # until the first one has the place
            hasher._places.release()
        with pytest.raises(PasswordsBusyError, match="come again"):
            hasher.is_password(kept, "four cold words apart")
        go_on.set()
        assert held.result()
    assert hasher.is_password(kept, "four cold words apart")
