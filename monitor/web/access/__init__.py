"""Who asks, and what they may: visitors, roles, and the right that each route needs."""
