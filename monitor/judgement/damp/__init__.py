"""Water on metal, mould, and whether opening a space dries it."""
