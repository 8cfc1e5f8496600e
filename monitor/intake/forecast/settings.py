"""Which agency to ask, for which place, and in whose name."""

from dataclasses import dataclass
from enum import StrEnum
from importlib.metadata import version


class Agency(StrEnum):
    """A public weather service whose documented interface laidup reads."""

    US_WEATHER_SERVICE = "us-weather-service"  # United States and territories
    MET_NORWAY = "met-norway"  # the whole world; CC BY 4.0, to be credited


ADDRESSES = {
    Agency.US_WEATHER_SERVICE: "https://api.weather.gov",
    Agency.MET_NORWAY: "https://api.met.no/weatherapi/locationforecast/2.0",
}
CREDITS = {
    Agency.US_WEATHER_SERVICE: "US National Weather Service",
    Agency.MET_NORWAY: "MET Norway (CC BY 4.0)",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastSettings:
    """Whom to ask for the yard's place."""

    agency: Agency
    contact: str  # who answers for this program's requests; both agencies ask for it
    latitude: float
    longitude: float
    url: str | None = None  # in place of the agency's own address
    timeout_s: float = 20.0

    @property
    def address(self) -> str:
        """Where the agency's interface begins."""
        return (self.url or ADDRESSES[self.agency]).rstrip("/")

    @property
    def user_agent(self) -> str:
        """What every request says of itself."""
        return f"laidup/{version('laidup')} ({self.contact})"


def degrees_text(value: float) -> str:
    """A latitude or longitude of at most four decimals and without trailing zeros.

    Both agencies cache by place and refuse or redirect finer or longer ones.
    """
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
