"""Kinds of small craft for random yards: their circuits, and how much such circuits differ.

Volumes are what stays after ordinary draining; lags are of the circuit behind its space's air.
All are estimates of the trade, given as the range within which single craft fall.
"""

from dataclasses import dataclass

Range = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitKind:
    """One water-bearing volume of a kind of craft."""

    id: str
    volume_l: Range
    lag_h: Range
    metal_kj_k: float
    material: str
    drainage: str = "partly"  # self, partly, none
    outside: bool = False
    diameter_m: float = 0.0
    yields: bool = False
    coolant: bool = False  # closed loop that always holds engine coolant


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftKind:
    """One kind of craft."""

    id: str
    share: float  # of a random yard
    circuits: tuple[CircuitKind, ...]
    engine_kj_k: float
    engine_lag_h: Range  # behind the space's air
    engine_m2: float
    battery_ah: float


def _c(
    id_: str,
    volume_l: Range,
    lag_h: Range,
    metal_kj_k: float,
    material: str,
    drainage: str = "partly",
    **more: float | bool,
) -> CircuitKind:
    return CircuitKind(
        id=id_,
        volume_l=volume_l,
        lag_h=lag_h,
        metal_kj_k=metal_kj_k,
        material=material,
        drainage=drainage,
        **more,  # type: ignore[arg-type]
    )


_BOX = {"diameter_m": 0.12, "yields": True}
_OUT = {"outside": True}

KINDS: tuple[CraftKind, ...] = (
    CraftKind(
        id="pwc-two-stroke",
        share=0.25,
        engine_kj_k=26.0,
        engine_lag_h=(2.0, 5.0),
        engine_m2=0.9,
        battery_ah=18.0,
        circuits=(
            _c("cylinder-passages", (0.06, 0.4), (1.5, 4.0), 11.0, "aluminium"),
            _c("exhaust-manifold", (0.1, 0.4), (1.2, 3.0), 4.0, "aluminium"),
            _c("water-box", (0.3, 2.0), (3.0, 6.0), 1.5, "plastic", "none", **_BOX),
            _c("hoses", (0.05, 0.2), (0.6, 1.5), 0.3, "rubber", **_OUT),
        ),
    ),
    CraftKind(
        id="pwc-four-stroke",
        share=0.3,
        engine_kj_k=40.0,
        engine_lag_h=(2.5, 6.0),
        engine_m2=1.1,
        battery_ah=30.0,
        circuits=(
            _c("coolant-loop", (2.0, 5.0), (3.0, 6.0), 24.0, "aluminium", "none", coolant=True),
            _c("raw-side", (0.2, 0.6), (1.2, 2.2), 3.0, "aluminium fins"),
            _c("water-box", (0.5, 2.0), (3.0, 6.0), 1.5, "plastic", "none", **_BOX),
        ),
    ),
    CraftKind(
        id="outboard",
        share=0.2,
        engine_kj_k=45.0,
        engine_lag_h=(1.5, 4.0),
        engine_m2=0.8,
        battery_ah=60.0,
        circuits=(
            _c("powerhead", (0.02, 0.1), (1.5, 4.0), 14.0, "aluminium", "self"),
            _c("gearcase", (0.05, 0.3), (2.0, 4.0), 5.0, "aluminium", "none", **_OUT),
            _c("livewell-pump", (0.1, 0.5), (0.6, 1.5), 0.8, "plastic", "none", **_OUT),
        ),
    ),
    CraftKind(
        id="sterndrive",
        share=0.15,
        engine_kj_k=170.0,
        engine_lag_h=(6.0, 16.0),
        engine_m2=2.5,
        battery_ah=75.0,
        circuits=(
            _c("block", (0.5, 4.0), (6.0, 16.0), 110.0, "iron"),
            _c("manifolds-and-risers", (0.5, 2.5), (2.0, 5.0), 25.0, "iron"),
            _c("drive-unit", (0.05, 0.3), (2.0, 5.0), 6.0, "aluminium", "self", **_OUT),
        ),
    ),
    CraftKind(
        id="tow-boat",
        share=0.1,
        engine_kj_k=170.0,
        engine_lag_h=(6.0, 16.0),
        engine_m2=2.5,
        battery_ah=75.0,
        circuits=(
            _c("coolant-loop", (10.0, 20.0), (6.0, 16.0), 110.0, "iron", "none", coolant=True),
            _c("raw-side", (1.0, 4.0), (1.5, 4.0), 9.0, "bronze and iron"),
            _c("ballast-pump", (0.1, 0.4), (0.6, 1.5), 1.0, "plastic", "none"),
            _c("shower-pump", (0.1, 0.5), (0.6, 1.5), 0.8, "plastic", "none", **_OUT),
        ),
    ),
)
