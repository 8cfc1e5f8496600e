"""The job plan of a craft: what is to be done, in working order, autumn and spring."""
