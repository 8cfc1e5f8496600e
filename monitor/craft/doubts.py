"""Whether one account of a piece of work says worse of it than another."""

from monitor.craft.layup import LayupEntry, OilLook, Outflow

_BAD_OUTFLOWS = frozenset({Outflow.NONE, Outflow.CLEAR_WATER})
_BAD_OILS = frozenset({OilLook.MILKY, OilLook.WATER})


def says_worse(entry: LayupEntry, other: LayupEntry) -> bool:
    """Whether an account holds a doubt that another of the same work does not.

    Less of something, a bad sign, a finding, or a reading where the other has none or a colder
    one: whatever it was, it must come onto the record.
    """
    seen, known = entry.evidence, other.evidence
    bad = (
        seen.outflow in _BAD_OUTFLOWS and seen.outflow is not known.outflow,
        seen.oil in _BAD_OILS and seen.oil is not known.oil,
        seen.dry is False and known.dry is not False,
        seen.engine_hot is False and known.engine_hot is not False,
        seen.treated_fuel_seen is False and known.treated_fuel_seen is not False,
        seen.used_away is True and known.used_away is not True,
        entry.posture not in {None, other.posture},
        _is_above(seen.ice_point_c, known.ice_point_c),
        _is_above(entry.residual_l, other.residual_l),
        _is_above(other.quantity_l, entry.quantity_l) and entry.quantity_l is not None,
        _is_above(other.rested_v, entry.rested_v) and entry.rested_v is not None,
        any(one not in other.findings for one in entry.findings),
    )
    return any(bad)


def _is_above(value: float | None, other: float | None) -> bool:
    """Whether a value is told and is above another, or that one is not told."""
    return value is not None and (other is None or value > other)
