"""Water on metal, and mould."""
