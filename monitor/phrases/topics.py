"""How messages say that what they told of is over, by topic and hazard."""

from collections.abc import Mapping
from collections.abc import Set as AbstractSet

from monitor.yard.alarm import Topic
from monitor.yard.assessment import Hazard

_OF_TOPIC: Mapping[Topic, str] = {
    Topic.FROST: "frost",
    Topic.HEAT: "the heat holds",
    Topic.DAMP: "metal is dry",
    Topic.BATTERY: "batteries",
    Topic.PATH: "messages get through again",
    Topic.SILENCE: "everything is heard again",
}
# Where all that a message lists is of one hazard beside its topic's own.
_OF_HAZARD: Mapping[Hazard, str] = {
    Hazard.RECORD: "the record is in order",
    Hazard.POWER: "power and gateway are back",
    Hazard.CHARGING: "maintainers charge as they should",
    Hazard.SENSING: "the sensors agree again",
    Hazard.OWN_CLOCK: "the machine's clock is right again",
    Hazard.BROKER: "the broker drops nothing more",
    Hazard.DISK: "there is room on the disk again",
    Hazard.STORE: "the store is sound again",
    Hazard.FORECAST: "the public forecast is fresh again",
}


def over_words(topic: Topic, hazards: AbstractSet[Hazard]) -> str:
    """What is said once nothing of a topic is open; of one hazard alone, by that."""
    if len(hazards) == 1:
        return _OF_HAZARD.get(next(iter(hazards)), _OF_TOPIC[topic])
    return _OF_TOPIC[topic]


for _topic in Topic:
    if _topic not in _OF_TOPIC:
        raise ValueError(f"topic {_topic}: has no words among the topics")
