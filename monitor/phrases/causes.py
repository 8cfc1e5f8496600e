"""What people call each cause of alarm."""

from collections.abc import Mapping

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
    "forecast-old": "Public forecast is old",
    "own-clock": "laidup's clock is wrong",
    "broker-drops": "Broker drops messages",
    "disk-filling": "Little room on the disk",
    "disk-full": "The disk is full",
    "store-damaged": "The store is damaged",
    "record-rewritten": "The lay-up record was cut or rewritten",
    "path-failed": "Messages do not get through",
}
_AHEAD = {"sweat": "Metal will sweat"}  # as a forecast has it come


def cause_title(cause: str, *, ahead: bool = False) -> str:
    """What a cause is called; one of an earlier program by its own name.

    Parameters
    ----------
    cause : str
    ahead : bool
        A forecast has it come, and it does not hold yet.
    """
    title = CAUSE_TITLES.get(cause) or cause.replace("-", " ").capitalize()
    return _AHEAD.get(cause, title) if ahead else title
