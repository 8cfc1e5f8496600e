"""The season record: one craft's winter in one set of figures, for the page as for machines."""
