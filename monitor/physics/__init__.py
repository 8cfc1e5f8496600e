"""Pure arithmetic over arrays: moist air, lag, ice, antifreeze, wetness, mould, battery, night low."""
