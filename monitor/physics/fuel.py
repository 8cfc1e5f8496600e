"""Water that petrol with 10 % of ethanol holds before it separates."""

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.blocks import Floats
from monitor.physics.table import between_rows

# Volume % of water held at 10 °F, 60 °F and room temperature. A web page without origin has 0.3
# at 10 °F and 0.5 at 60 °F (common practice); a university test found 0.40 at room temperature,
# and is believed.
_TEMPERATURES_C = np.array([-12.25, 15.6, 20.0])
_HELD_PCT = np.array([0.3, 0.41, 0.41])


def water_held_by_e10(temperature_c: ArrayLike) -> Floats:
    """Water [volume %] that E10 holds, -12 to 20 °C; NaN outside.

    Rough, and falling with the cold: fuel that was clear in autumn can separate in the first
    hard frost. Good for a reminder, not for a judgement.
    """
    return between_rows(temperature_c, _TEMPERATURES_C, _HELD_PCT)
