"""How messages about alarms are called: in their subject line, in their title, when it is over."""

from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from monitor.yard.alarm import Topic
from monitor.yard.assessment import Hazard


@dataclass(frozen=True, slots=True)
class TopicWords:
    """How a message is called that is about one kind of thing."""

    subject: str
    one: str  # the title, where it is about one thing
    many: str
    over: str


_OF_TOPIC = {
    Topic.FROST: TopicWords(
        "Frost",
        "{name} is not safe from this frost",
        "{n} craft are not safe from this frost",
        "frost",
    ),
    Topic.HEAT: TopicWords(
        "Heat lost",
        "{name} is losing its heat",
        "{n} spaces are losing their heat",
        "the heat holds",
    ),
    Topic.DAMP: TopicWords(
        "Damp",
        "Metal is getting wet in {name}",
        "Metal is getting wet in {n} spaces",
        "metal is dry",
    ),
    Topic.BATTERY: TopicWords(
        "Battery",
        "The battery of {name} needs a hand",
        "{n} batteries need a hand",
        "batteries",
    ),
    Topic.PATH: TopicWords(
        "Messages do not get through",
        "Messages do not get through",
        "Messages do not get through",
        "messages get through again",
    ),
    Topic.SILENCE: TopicWords(
        "Not heard",
        "{name}: not every sensor is heard",
        "{n} sensors or spaces are not heard",
        "everything is heard again",
    ),
}
# What a message is about, where all that it lists is of one hazard beside its topic's own.
_OF_HAZARD = {
    Hazard.RECORD: TopicWords(
        "Lay-up",
        "The record of {name} leaves something to put right",
        "The records of {n} craft leave something to put right",
        "the record is in order",
    ),
    Hazard.POWER: TopicWords(
        "Power or gateway lost",
        "{name} has gone dark",
        "{n} warm spaces have gone dark",
        "power and gateway are back",
    ),
    Hazard.CHARGING: TopicWords(
        "Overcharge",
        "The battery of {name} is driven too hard",
        "{n} batteries are driven too hard",
        "maintainers charge as they should",
    ),
    Hazard.SENSING: TopicWords(
        "Sensors differ",
        "The sensors of {name} contradict each other",
        "The sensors of {n} spaces contradict each other",
        "the sensors agree again",
    ),
    Hazard.OWN_CLOCK: TopicWords(
        "Clock wrong",
        "The clock of laidup's own machine is wrong",
        "The clock of laidup's own machine is wrong",
        "the machine's clock is right again",
    ),
    Hazard.BROKER: TopicWords(
        "Broker drops messages",
        "The broker has thrown messages away",
        "The broker has thrown messages away",
        "the broker drops nothing more",
    ),
    Hazard.DISK: TopicWords(
        "Disk nearly full",
        "There is little room on the disk of laidup's store",
        "There is little room on the disk of laidup's store",
        "there is room on the disk again",
    ),
    Hazard.STORE: TopicWords(
        "Store damaged",
        "What laidup keeps in its store is damaged",
        "What laidup keeps in its store is damaged",
        "the store is sound again",
    ),
    Hazard.FORECAST: TopicWords(
        "Public forecast is old",
        "The public forecast is too old to plan by",
        "The public forecast is too old to plan by",
        "the public forecast is fresh again",
    ),
}
DAMP_AIR = TopicWords(
    "Damp",
    "The air of {name} has been damp for a day",
    "The air of {n} spaces has been damp for a day",
    "the air is dry again",
)
DRYING = TopicWords(
    "Damp",
    "Metal is still wet in {name}",
    "Metal is still wet in {n} spaces",
    "metal is dry",
)
DEW_AHEAD = TopicWords(
    "Damp ahead",
    "Metal will get wet in {name}",
    "Metal will get wet in {n} spaces",
    "metal is dry",
)


def words_of_topic(topic: Topic, hazards: AbstractSet[Hazard]) -> TopicWords:
    """How a message is called; of one hazard alone, by that where it has words of its own."""
    if len(hazards) == 1:
        return _OF_HAZARD.get(next(iter(hazards)), _OF_TOPIC[topic])
    return _OF_TOPIC[topic]


for _topic in Topic:
    if _topic not in _OF_TOPIC:
        raise ValueError(f"topic {_topic}: has no words among the topics")
