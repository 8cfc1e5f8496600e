"""A sensor's calibration: what it read beside what was true, when, and against which standard."""

from dataclasses import dataclass
from datetime import date
from math import isfinite

from monitor.errors import QuantityError
from monitor.yard.reading import Channel


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One comparison, both numbers in the channel's unit."""

    read: float
    true: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """One day's comparison of one channel with a standard; it holds for readings from then on.

    One point shifts; two points make a line. Temperature is commonly compared in an ice bath
    (0 °C), humidity over saturated salts, whose humidities Greenspan tabulated (J. Res. NBS 81A,
    1977): 32.8 % over magnesium chloride and 75.3 % over sodium chloride at 25 °C.
    """

    channel: Channel
    made_on: date
    standard: (
        str  # what it was compared with: "ice bath", "sodium chloride", a certificate's number
    )
    points: tuple[Point, ...]
    due_on: date | None = None  # when the next one is due

    def __post_init__(self) -> None:
        subject = f"calibration of {self.channel} on {self.made_on}"
        if not self.standard:
            raise QuantityError(f"{subject}: against what? Name the standard")
        if len(self.points) not in {1, 2}:
            raise QuantityError(f"{subject}: {len(self.points)} points", "give one or two")
        if not all(isfinite(point.read) and isfinite(point.true) for point in self.points):
            raise QuantityError(f"{subject}: its points must be numbers")
        if len(self.points) == 2 and not 0.5 <= self.gain <= 2.0:
            raise QuantityError(
                f"{subject}: the two points make a gain of {self.gain:.2f}",
                (
                    "no sound sensor is off by so much. Were read and true"
                    " swapped, or the points too close?"
                ),
            )

    @property
    def gain(self) -> float:
        """Slope of true over read [unitless]; 1 with one point."""
        if len(self.points) == 1:
            return 1.0
        low, high = self.points
        span = high.read - low.read
        return (high.true - low.true) / span if span else float("inf")

    @property
    def offset(self) -> float:
        """What is added after the gain, in the channel's unit."""
        return self.points[0].true - self.gain * self.points[0].read
