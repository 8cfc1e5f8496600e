"""What the sums know kinds of, and the bounds of their tables: no arrays, for who only asks."""

from typing import Literal

Chemistry = Literal["flooded", "agm", "gel", "lifepo4"]
Glycol = Literal["propylene", "ethylene"]
Salt = Literal["LiCl", "MgCl2", "K2CO3", "NaCl", "KCl", "K2SO4"]
Sensitivity = Literal["very sensitive", "sensitive", "medium resistant", "resistant"]

HIGHEST_MASS_FRACTION = 0.6  # of glycol; above it the ice point rises again
FLOOR_H = 3.0  # first hours after the heat stops, which the floor's warmth bends
STANDARD_PRESSURE_PA = 101_325.0  # sea level, ISO 2533
