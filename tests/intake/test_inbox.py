"""The inbox: bounded in number and in bytes, and fair between topics."""

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake.inbox import ArrivedMessage, Inbox, in_turns
from tests.tried import tried


def message(n: int, topic: str = "mill/north", size: int = 10) -> ArrivedMessage:
    return ArrivedMessage(topic, b"x" * size, 1_767_225_600_000, True, 1, n, 1)


def test_it_is_full_at_its_number_of_messages_and_at_its_bytes():
    few, light = Inbox(3), Inbox(1000, most_bytes=100_000)
    for n in range(3):
        assert not few.is_full
        few.put_message(message(n))
    assert few.is_full
    while not light.is_full:
        light.put_message(message(0, size=30_000))
    assert len(light) == 4
    light.take_all()
    assert not light.is_full


@settings(max_examples=tried(30))
@given(st.lists(st.tuples(st.sampled_from("abcd"), st.integers(0, 5000)), max_size=40))
def test_every_message_has_its_turn_once_and_each_topic_keeps_its_order(sent):
    messages = [message(n, topic, size) for n, (topic, size) in enumerate(sent)]
    portions = list(in_turns(messages, 8000))
    taken = [one for portion in portions for one in portion]
    assert sorted(one.packet_id for one in taken) == list(range(len(messages)))
    for topic in "abcd":
        own = [one.packet_id for one in taken if one.topic == topic]
        assert own == sorted(own)


def test_a_topic_that_says_little_is_in_the_first_portion_whatever_waits_before_it():
    flood = [message(n, "mill/broken", 5000) for n in range(500)]
    first = next(in_turns([*flood, message(500, "mill/north")], 50_000))
    assert "mill/north" in {one.topic for one in first}
    assert len(first) < 20
