"""What a sensor may say without being doubted: the bounds of the quality tests."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Bounds of the QARTOD tests for one channel, in the channel's unit; None: the usual one.

    Bounds belong to the good side. Tests: gross range (sensor and operator), rate of change,
    spike, flat line (US IOOS, manuals for real-time quality control).
    """

    sensor_low: float | None = None  # below: fail
    sensor_high: float | None = None
    operator_low: float | None = None  # below: suspect
    operator_high: float | None = None
    rise_per_min: float | None = None  # faster: suspect
    fall_per_min: float | None = None
    spike_suspect: float | None = None  # stands out by more than this from both neighbours
    spike_fail: float | None = None
    flat_h: float | None = None  # the very same value for longer: suspect
