"""Pure arithmetic over arrays: moist air, lag, ice, antifreeze, damp, battery, night low."""
