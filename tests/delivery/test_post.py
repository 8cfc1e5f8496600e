"""The outbox is emptied: at least once, never again after a confirmation, nothing lost."""

import random
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from itertools import pairwise

import pytest

from monitor.delivery.channel_post import LEASE, ChannelPost
from monitor.delivery.channels.mail import MailChannel
from monitor.delivery.post import Post
from monitor.delivery.waiting import wait_after
from monitor.store.claims import FARTHEST_CLAIM, FARTHEST_TRY
from monitor.yard.message import DeliveryOutcome, MessageKind, Receipt
from tests.delivery.scene import AT, Box, BreakingServer, Recorder, mail_settings, message

TAKEN, PUT_OFF, REFUSED = (
    DeliveryOutcome.TAKEN,
    DeliveryOutcome.PUT_OFF,
    DeliveryOutcome.REFUSED,
)

pytestmark = pytest.mark.usefixtures("scenes_on_both")


def attempts(box, key="frost/1/maren/1"):
    with box.store.snapshot() as tx:
        return tx.outbox.attempts_on(key)


def test_a_taken_message_is_never_sent_again(tmp_path):
    box, channel = Box(tmp_path), Recorder()
    box.add(message())
    post = Post(box.store, {"mail": channel}, box.clock)
    assert post.run_once().taken == 1
    for _ in range(5):
        box.clock.advance_to(box.clock.now() + timedelta(days=1))
        assert post.run_once().taken == 0
    assert channel.sent == ["frost/1/maren/1"]


def test_a_message_keeps_its_language_until_it_leaves(tmp_path):
    box = Box(tmp_path)
    box.add(message(language="de"), message("frost/1/tobin/1"))
    with box.store.snapshot() as tx:
        kept = {each.key: each.language for each, _ in tx.outbox.newest_messages(2)}
    assert kept == {"frost/1/maren/1": "de", "frost/1/tobin/1": "en"}


def test_a_message_put_off_is_tried_again_later_and_later(tmp_path):
    box, channel = Box(tmp_path), Recorder(*[PUT_OFF] * 6)
    box.add(message())
    post = Post(box.store, {"mail": channel}, box.clock, chance=random.Random(7))
    tried = []
    for _ in range(4 * 3600 // 10):
        post.run_once()
        if len(channel.sent) > len(tried):
            tried.append(box.clock.now())
        box.clock.advance_to(box.clock.now() + timedelta(seconds=10))
    gaps = [(later - earlier).total_seconds() for earlier, later in pairwise(tried)]
    assert len(tried) == 7
    assert 20 <= gaps[0] <= 50
    # A frost alarm asks every few minutes whether the server is back.
    for gap, nominal in zip(gaps, (30, 60, 120, 240, 240, 240), strict=True):
        assert 0.74 * nominal <= gap <= 1.26 * nominal + 10
    assert [a.outcome for a in attempts(box)] == [PUT_OFF] * 6 + [TAKEN]


def test_waits_are_spread_so_that_many_yards_do_not_knock_in_step():
    waits = {wait_after(5, MessageKind.REPORT, random.Random(seed)) for seed in range(50)}
    assert len(waits) == 50
    assert max(waits) > 1.2 * min(waits)


def test_a_message_too_old_to_help_is_given_up_and_says_so(tmp_path):
    box, channel = Box(tmp_path), Recorder(*[PUT_OFF] * 1000)
    box.add(message())
    post = Post(box.store, {"mail": channel}, box.clock)
    for _ in range(3 * 24 * 4):
        post.run_once()
        box.clock.advance_to(box.clock.now() + timedelta(minutes=15))
    assert box.counts() == {"refused": 1}
    last = attempts(box)[-1]
    assert last.outcome is REFUSED
    assert "given up after" in last.detail
    assert len(channel.sent) < 200


def test_a_refused_message_is_not_tried_again(tmp_path):
    box, channel = Box(tmp_path), Recorder(REFUSED)
    box.add(message())
    post = Post(box.store, {"mail": channel}, box.clock)
    assert post.run_once().refused == 1
    box.clock.advance_to(AT + timedelta(days=1))
    post.run_once()
    assert len(channel.sent) == 1


def test_a_dead_server_costs_one_try_a_run_not_one_for_each_message(tmp_path):
    box, channel = Box(tmp_path), Recorder(*[PUT_OFF] * 100)
    box.add(*(message(f"frost/{n}/maren/1") for n in range(30)))
    assert Post(box.store, {"mail": channel}, box.clock).run_once().put_off == 1
    assert len(channel.sent) == 1


class OneFullMailbox(Recorder):
    """Puts one message off for ever and takes all others."""

    def send(self, message):
        if message.key == "frost/0/maren/1":
            self.answers = [PUT_OFF]
        return super().send(message)


def test_one_recipients_trouble_does_not_hold_up_the_others(tmp_path):
    box, channel = Box(tmp_path), OneFullMailbox()
    box.add(*(message(f"frost/{n}/maren/1") for n in range(5)))
    post = Post(box.store, {"mail": channel}, box.clock)
    for _ in range(3):
        post.run_once()
    assert box.counts() == {"waiting": 1, "taken": 4}
    for _ in range(5):
        post.run_once()
    assert channel.sent.count("frost/0/maren/1") <= 2  # its own waits go on


def test_after_an_outage_everything_leaves_as_soon_as_one_message_was_taken(tmp_path):
    box, channel = Box(tmp_path), Recorder(*[PUT_OFF] * 20)
    box.add(*(message(f"week/{n}", kind=MessageKind.REPORT) for n in range(5)))
    post = Post(box.store, {"mail": channel}, box.clock)
    while channel.answers:
        post.run_once()
        box.clock.advance_to(box.clock.now() + timedelta(minutes=5))
    box.add(message("frost/9/maren/1", created_at=box.clock.now()))  # the server is back
    assert post.run_once().taken == 6


def test_after_a_restart_in_an_outage_it_is_the_same(tmp_path):
    box, channel = Box(tmp_path), Recorder(*[PUT_OFF] * 20)
    box.add(*(message(f"week/{n}", kind=MessageKind.REPORT) for n in range(5)))
    while channel.answers:
        Post(box.store, {"mail": channel}, box.clock).run_once()
        box.clock.advance_to(box.clock.now() + timedelta(minutes=5))
    box.add(message("frost/9/maren/1", created_at=box.clock.now()))
    assert Post(box.store, {"mail": channel}, box.clock).run_once().taken == 6


def test_who_works_here_is_told_before_the_owners_however_slow_the_server(tmp_path):
    box, channel = Box(tmp_path), Recorder()
    owners = (message(f"frost/1/owner-{n:02}/1", person=f"owner-{n:02}") for n in range(40))
    box.add(
        *owners,
        message("week/maren", kind=MessageKind.REPORT),
        message("frost/1/tom/1", person="tom"),
    )
    Post(box.store, {"mail": channel}, box.clock, staff=["maren", "tom"]).run_once()
    assert channel.sent[0] == "frost/1/tom/1"
    assert channel.sent[-1] == "week/maren"


def test_an_alarm_leaves_before_the_reports_that_came_first(tmp_path):
    box, channel = Box(tmp_path), Recorder()
    box.add(*(message(f"week/{n}", kind=MessageKind.REPORT) for n in range(5)))
    box.clock.advance_to(AT + timedelta(minutes=1))
    box.add(message("frost/9/maren/1", created_at=box.clock.now()))
    Post(box.store, {"mail": channel}, box.clock).run_once()
    assert channel.sent[0] == "frost/9/maren/1"


def test_a_channel_that_hangs_does_not_hold_up_another(tmp_path):
    box = Box(tmp_path)
    server = BreakingServer("connect", "hang")
    siren = Recorder()
    box.add(message(), message("siren/1/yard/1", channel="siren"))
    post = Post(
        box.store,
        {"mail": MailChannel(mail_settings(server.port, within_s=0.5)), "siren": siren},
        box.clock,
    )
    try:
        done = post.run_once()
    finally:
        server.stop()
    assert (done.taken, done.put_off) == (1, 1)
    assert siren.sent == ["siren/1/yard/1"]


def test_a_channel_that_raises_costs_only_its_own_try(tmp_path):
    class Broken:
        def send(self, message):
            raise RuntimeError(f"odd {message.key}")

    box = Box(tmp_path)
    box.add(message())
    assert Post(box.store, {"mail": Broken()}, box.clock).run_once().put_off == 1
    assert "odd frost/1" in attempts(box)[0].detail


def test_a_message_for_a_channel_that_nobody_configured_waits_for_it(tmp_path):
    box, channel = Box(tmp_path), Recorder()
    box.add(message(channel="webhook"))
    assert Post(box.store, {"mail": channel}, box.clock).run_once().put_off == 1
    box.clock.advance_to(AT + timedelta(hours=1))
    assert Post(box.store, {"webhook": channel}, box.clock).run_once().taken == 1


class Killed(BaseException):
    """The process ends here."""


@pytest.mark.parametrize("moment", ["before sending", "after sending", "after settling"])
def test_a_kill_between_two_steps_loses_nothing_and_doubles_nothing_confirmed(
    tmp_path, monkeypatch, moment
):
    box = Box(tmp_path)
    box.add(message("a/1"), message("b/1"))
    channel = Recorder()
    send, settle = ChannelPost._send_message, ChannelPost._settle_receipt

    def dying_send(self, message):
        if moment == "before sending":
            raise Killed
        receipt = send(self, message)
        if moment == "after sending":
            raise Killed
        return receipt

    def dying_settle(self, *rest):
        done = settle(self, *rest)
        if moment == "after settling":
            raise Killed
        return done

    with monkeypatch.context() as dying:
        dying.setattr(ChannelPost, "_send_message", dying_send)
        dying.setattr(ChannelPost, "_settle_receipt", dying_settle)
        with pytest.raises(Killed):
            Post(box.store, {"mail": channel}, box.clock).run_once()
    box.store.close()
    box.store = type(box.store)(box.url, "kettlemoss")
    box.clock.advance_to(AT + LEASE + timedelta(minutes=1))  # the claim of the dead has run out
    Post(box.store, {"mail": channel}, box.clock).run_once()
    assert box.counts() == {"taken": 2}
    times = {key: channel.sent.count(key) for key in ("a/1", "b/1")}
    # Only what was handed over but not yet confirmed in the store may come a second time.
    assert times == {"a/1": 2 if moment == "after sending" else 1, "b/1": 1}


def test_two_posts_on_one_outbox_send_each_message_once(tmp_path):
    box, channel = Box(tmp_path), Recorder()
    box.add(*(message(f"frost/{n}/maren/1") for n in range(40)))
    posts = [Post(box.store, {"mail": channel}, box.clock) for _ in range(2)]
    with ThreadPoolExecutor(2) as workers:
        list(workers.map(lambda post: post.run_once(), posts))
    assert sorted(channel.sent) == sorted(set(channel.sent))
    assert box.counts() == {"taken": 40}


def test_a_mail_server_that_refuses_stalls_drops_and_comes_back_gets_each_mail(
    tmp_path, mail_server
):
    box = Box(tmp_path)
    box.add(*(message(f"frost/{n}/maren/1", subject=f"Frost {n}") for n in range(3)))

    def run(settings, minutes):
        Post(box.store, {"mail": MailChannel(settings)}, box.clock).run_once()
        box.clock.advance_to(box.clock.now() + timedelta(minutes=minutes))

    mail_server.refusal = "451 4.3.0 busy"
    run(mail_settings(mail_server.port), 10)
    for step, how in (("rcpt", "hang"), ("body", "drop")):
        breaking = BreakingServer(step, how)
        run(mail_settings(breaking.port, within_s=0.3), 20)
        breaking.stop()
    mail_server.stop()
    run(mail_settings(mail_server.port), 40)
    mail_server.refusal = None
    mail_server.start()
    for _ in range(4):
        run(mail_settings(mail_server.port), 40)
    assert sorted(mail.subject for mail in mail_server.messages) == [
        "Frost 0",
        "Frost 1",
        "Frost 2",
    ]
    assert box.counts() == {"taken": 3}


def test_a_test_message_is_given_up_within_the_hour(tmp_path):
    box, channel = Box(tmp_path), Recorder(*[PUT_OFF] * 100)
    box.add(message(kind=MessageKind.TEST))
    post = Post(box.store, {"mail": channel}, box.clock)
    for _ in range(30):
        post.run_once()
        box.clock.advance_to(box.clock.now() + timedelta(minutes=4))
    assert box.counts() == {"refused": 1}


def test_no_wait_and_no_claim_reaches_what_is_taken_for_a_clock_that_ran_ahead():
    unlucky = random.Random()
    unlucky.uniform = max  # the longest of what chance may give
    assert max(wait_after(100, kind, unlucky) for kind in MessageKind) < FARTHEST_TRY
    assert LEASE < FARTHEST_CLAIM


def test_what_a_server_answers_is_kept_without_the_address_that_it_repeats(tmp_path):
    class Repeats:
        def send(self, message):
            said = f"550 5.1.1 <{message.address.upper()}>: no mailbox {message.address} here"
            return Receipt(outcome=REFUSED, detail=said)

    box = Box(tmp_path)
    box.add(message(), message(key="other", address=""))
    Post(box.store, {"mail": Repeats()}, box.clock).run_once()
    (kept,) = attempts(box)
    assert kept.detail == "550 5.1.1 <the address>: no mailbox the address here"
