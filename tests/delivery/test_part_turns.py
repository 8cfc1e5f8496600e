"""A part of the daemon that died, hangs or only fails is named, with the reason."""

from monitor.delivery.couriers import courier_name
from monitor.delivery.part_turns import PartTurns
from monitor.delivery.post import Post
from tests.delivery.scene import Box, message


class Watch:
    """Seconds that the test counts."""

    def __init__(self):
        self.now_s = 0.0

    def __call__(self):
        return self.now_s


def turning():
    watch = Watch()
    return watch, PartTurns({"watch": 600.0, "post": 900.0}, watch)


def test_a_part_that_turns_is_well():
    watch, parts = turning()
    for _ in range(30):
        watch.now_s += 60
        parts.note_turn("watch")
        parts.note_turn("post")
    assert parts.unwell_parts() == {}


def test_a_part_that_never_turned_or_stopped_is_named_once_its_time_is_up():
    watch, parts = turning()
    watch.now_s = 600
    assert parts.hanging_parts() == {}
    watch.now_s = 660
    assert parts.hanging_parts() == {"watch": "has not turned for 11 min"}
    parts.note_turn("watch")
    assert parts.hanging_parts() == {}


def test_a_long_turn_that_goes_on_does_not_hang():
    watch, parts = turning()
    for _ in range(10):
        watch.now_s += 500
        parts.going_on("post")
        parts.note_turn("watch")
    assert parts.hanging_parts() == {}


def test_a_part_that_fails_each_time_is_unwell_though_it_does_not_hang():
    _, parts = turning()
    for _ in range(2):
        parts.note_failure("watch", OSError("disk full"))
    assert parts.unwell_parts() == {}
    parts.note_failure("watch", OSError("disk full"))
    assert parts.unwell_parts() == {
        "watch": "failed 3 times in a row, last with OSError: disk full"
    }
    assert parts.hanging_parts() == {}
    parts.note_turn("watch")
    assert parts.unwell_parts() == {}


def test_mail_of_a_yard_without_a_mail_server_waits_and_leaves_the_post_well(tmp_path):
    _, parts = turning()
    box = Box(tmp_path)
    box.add(message())
    post = Post(box.store, {}, box.clock, on_try=lambda name: parts.going_on(courier_name(name)))
    assert post.run_once().put_off == 1
    assert parts.unwell_parts() == {}
