"""A winter that has not come yet, stood through with the record as it is."""
