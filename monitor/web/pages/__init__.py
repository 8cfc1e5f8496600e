"""The pages, one module each: what it reads of the store, and its route."""
