"""Kinds of values that may stand in the files: ids, addresses, zones, hours, quantities in SI."""

from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints

from monitor.craft.layup import ONE_LINE
from monitor.errors import BadValueError
from monitor.phrases.complaints import ID, PHONE, SENSOR, TEXT, TIME_OF_DAY, USER
from monitor.units import DURATION, Dimension, parse_quantity


def _check_zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise BadValueError(
            "no such time zone",
            "write it like America/Chicago or Europe/Berlin",
        ) from error
    return name


def _check_address(text: str) -> str:
    name, at, host = text.rpartition("@")
    if not (name and at and host) or any(sign in text for sign in " \r\n,<>"):
        raise BadValueError("no mail address", "write it like watch@yard.example")
    return text


def _web_address(text: str) -> str:
    if not text.startswith(("https://", "http://")) or any(sign in text for sign in " \r\n\t?#"):
        raise BadValueError("no web address", "write it like https://forecast.example/api")
    return text


def _topic_filter(text: str) -> str:
    """Check wildcards (MQTT 5, section 4.7.1): a level of their own, and # the last."""
    levels = text.split("/")
    alone = all(level in {"+", "#"} or not set(level) & {"+", "#"} for level in levels)
    if not alone or "#" in levels[:-1]:
        raise BadValueError(
            "no topic filter",
            "+ and # stand alone between slashes, and # only last",
        )
    return text


def _sensor_name(text: str) -> str:
    if text[-1] in ":/":
        raise ValueError(f"leave out the last sign: {text.rstrip(':/')}")
    return text


Id = Annotated[str, StringConstraints(pattern=ID)]
Text = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=TEXT)]
# What people call a part of the yard, a person or a product: it stands on pages and in letters.
PlainName = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=ONE_LINE)]
BrokerUser = Annotated[str, StringConstraints(pattern=USER)]
TopicFilter = Annotated[Text, AfterValidator(_topic_filter)]
SensorName = Annotated[
    str,
    StringConstraints(pattern=SENSOR),
    AfterValidator(_sensor_name),
]
MailAddress = Annotated[str, AfterValidator(_check_address)]
WebAddress = Annotated[str, AfterValidator(_web_address)]
Zone = Annotated[str, AfterValidator(_check_zone)]
TimeOfDay = Annotated[str, StringConstraints(pattern=TIME_OF_DAY)]
PhoneNumber = Annotated[str, StringConstraints(pattern=PHONE)]
Port = Annotated[int, Field(ge=1, le=65535)]
Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]


def quantity_validator(dimension: Dimension) -> BeforeValidator:
    """Take a text such as ``14floz`` only; a bare number has no unit and is refused."""

    def take_text(value: Any) -> float:  # noqa: ANN401  a file may hold anything
        if not isinstance(value, str):
            raise BadValueError(
                f"a {dimension.name} needs its unit",
                f"write it like {dimension.example}",
            )
        return parse_quantity(value, dimension)

    return BeforeValidator(take_text)


def above_zero(value: float) -> float:
    """Refuse nothing, and less than nothing."""
    if not value > 0:
        raise BadValueError("it must be above 0", "nothing is this small")
    return value


Duration = Annotated[float, quantity_validator(DURATION), AfterValidator(above_zero)]
