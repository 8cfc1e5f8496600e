"""Quality of storage: how well a yard kept its spaces over a season, in one set of figures."""
