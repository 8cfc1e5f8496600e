"""What each cause of alarm calls for, in the few words of a lock screen: verb first."""

from collections.abc import Mapping

from monitor.phrases.causes import CAUSE_TITLES

# With the name of the craft, or of the space where no craft is concerned.
CALLS: Mapping[str, str] = {
    "frost": "save {name}",
    "ice": "leave {name} alone, ice in it",
    "third-ice": "leave {name} alone, ice in it",
    "moved-out": "move {name} back into the warm",
    "voided": "lay {name} up again",
    "unreadable": "put the record of {name} right",
    "file-refused": "correct the craft file of {name}",
    "snow-load": "clear the snow from {name}",
    "cover-torn": "refit the cover of {name}",
    "power-lost": "go to {name}, power or gateway lost",
    "heat-loss": "get the heat back in {name}",
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
    "forecast-old": "look at the forecast yourself",
    "own-clock": "set laidup's clock",
    "broker-drops": "mend the broker's queue",
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
