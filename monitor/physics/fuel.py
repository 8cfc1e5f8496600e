"""Water that petrol with 10 % of ethanol holds before it separates."""

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.blocks import Floats

# Volume % of water held at 10 °F and 60 °F: a web page without origin (common practice). A
# university test found 0.40 % at room temperature, so treat these as the hopeful end.
_TEMPERATURES_C = np.array([-12.2, 15.6])
_HELD_PCT = np.array([0.3, 0.5])


def water_held_by_e10(temperature_c: ArrayLike) -> Floats:
    """Water [volume %] that E10 holds, -12 to 16 °C; NaN outside.

    Rough, and falling with the cold: fuel that was clear in autumn can separate in the first
    hard frost. Good for a reminder, not for a judgement.
    """
    held: Floats = np.asarray(
        np.interp(
            np.asarray(temperature_c, dtype=np.float64),
            _TEMPERATURES_C,
            _HELD_PCT,
            left=np.nan,
            right=np.nan,
        )
    )[()]
    return held
