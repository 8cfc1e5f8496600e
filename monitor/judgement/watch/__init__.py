"""What else is watched: silent sensors, mains, forecasts that stay away, open records."""
