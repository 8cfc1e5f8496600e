"""A corpus of spoiled payloads for every parser that faces outside, made anew from seeds."""
