"""Public forecasts: asked of an agency politely, read, and kept as they were known."""
