"""Numbers with a unit as files and forms hold them, turned into SI while they are checked."""

from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator

from monitor.errors import BadValueError
from monitor.units import DURATION, Dimension, parse_quantity


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
