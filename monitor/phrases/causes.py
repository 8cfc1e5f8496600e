"""What people call each cause of alarm, its act in a few words, and how its end is told."""

from collections.abc import Mapping
from collections.abc import Set as AbstractSet

from monitor.yard.alarm import Topic
from monitor.yard.assessment import Hazard

CAUSE_TITLES: Mapping[str, str] = {
    "frost": "Frost ahead",
    "ice": "Ice",
    "third-ice": "A third of the mix is ice",
    "moved-out": "Moved out of the heat",
    "voided": "Lay-up undone",
    "unreadable": "Record cannot be read",
    "file-refused": "Craft file not taken in",
    "snow-load": "Snow or ice on the wrap",
    "cover-torn": "Cover torn",
    "power-lost": "Power or gateway lost",
    "heat-loss": "Losing heat",
    "heat-off": "Heat is off, no frost due",
    "battery-freezing": "Battery may freeze",
    "overcharge": "Maintainer overcharges",
    "maintainer-lost": "Maintainer lost",
    "battery-low": "Battery low",
    "sweat": "Metal sweats",
    "damp": "Damp for a day",
    "silence-urgent": "Silent when it matters",
    "silence": "Silent",
    "blind-space": "Nothing heard from a space",
    "sensor-doubted": "Sensor in doubt",
    "sensors-apart": "Sensors differ",
    "sensor-battery-low": "Sensor's own battery low",
    "forecast-old": "Public forecast is old",
    "own-clock": "laidup's clock is wrong",
    "broker-drops": "Broker drops messages",
    "foreign-sender": "Somebody sends in a sensor's name",
    "disk-filling": "Little room on the disk",
    "disk-full": "The disk is full",
    "store-damaged": "The store is damaged",
    "record-rewritten": "The lay-up record was cut or rewritten",
    "path-failed": "Messages do not get through",
}
_AHEAD = {"sweat": "Metal will sweat"}  # as a forecast has it come
_PAST = {"battery-freezing": "Battery may have frozen"}
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
    Hazard.SENSOR_BATTERY: "the sensors' own batteries are fresh",
    Hazard.OWN_CLOCK: "the machine's clock is right again",
    Hazard.BROKER: "the broker drops nothing more",
    Hazard.SENDER: "readings come from their own sensors again",
    Hazard.DISK: "there is room on the disk again",
    Hazard.STORE: "the store is sound again",
    Hazard.FORECAST: "the public forecast is fresh again",
}


def cause_title(cause: str, *, ahead: bool = False, past: bool = False) -> str:
    """What a cause is called; one of an earlier program by its own name.

    Parameters
    ----------
    cause : str
    ahead : bool
        A forecast has it come, and it does not hold yet.
    past : bool
        It may have come, and nobody has looked since.
    """
    title = CAUSE_TITLES.get(cause) or cause.replace("-", " ").capitalize()
    if past:
        return _PAST.get(cause, title)
    return _AHEAD.get(cause, title) if ahead else title


# With the name of the craft, or of the space where no craft is concerned.
CALLS: Mapping[str, str] = {
    "frost": "save {name}",
    "ice": "leave {name} alone, ice inside",
    "third-ice": "leave {name} alone, ice inside",
    "moved-out": "move {name} back into the warm",
    "voided": "lay {name} up again",
    "unreadable": "put the record of {name} right",
    "file-refused": "correct the craft file of {name}",
    "snow-load": "clear the snow from {name}",
    "cover-torn": "refit the cover of {name}",
    "power-lost": "go to {name}, power or gateway lost",
    "heat-loss": "get the heat back in {name}",
    "heat-off": "look at the heater of {name}",
    "battery-freezing": "warm the battery of {name}",
    "overcharge": "switch off the maintainer of {name}",
    "maintainer-lost": "look at the maintainer of {name}",
    "battery-low": "look at the battery of {name}",
    "sweat": "keep {name} dry",
    "damp": "dry {name}",
    "silence-urgent": "read {name} by hand",
    "silence": "look at the sensor of {name}",
    "blind-space": "read {name} by hand",
    "sensor-doubted": "look at the sensor of {name}",
    "sensors-apart": "compare the sensors of {name}",
    "sensor-battery-low": "change the sensor's battery in {name}",
    "forecast-old": "look at the forecast yourself",
    "own-clock": "set laidup's clock",
    "broker-drops": "mend the broker's queue",
    "foreign-sender": "find out who sends in a sensor's name",
    "disk-filling": "make room on laidup's disk",
    "disk-full": "make room on laidup's disk",
    "store-damaged": "put back the copy of laidup's store",
    "record-rewritten": "compare laidup's record with the paper",
    "path-failed": "tell people by telephone, messages fail",
}

for _cause in CAUSE_TITLES.keys() ^ CALLS.keys():
    raise ValueError(f"{_cause}: has a title or a call, and not both")


def call_of(cause: str, name: str) -> str:
    """What a cause calls for; of an earlier program's cause, to look at it."""
    return CALLS.get(cause, "look at {name}").format(name=name)


def over_words(topic: Topic, hazards: AbstractSet[Hazard]) -> str:
    """What is said once nothing of a topic is open; of one hazard alone, by that."""
    if len(hazards) == 1:
        return _OF_HAZARD.get(next(iter(hazards)), _OF_TOPIC[topic])
    return _OF_TOPIC[topic]


for _topic in Topic:
    if _topic not in _OF_TOPIC:
        raise ValueError(f"topic {_topic}: has no words among the topics")
