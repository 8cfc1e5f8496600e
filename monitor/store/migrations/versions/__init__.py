"""Steps that bring a store's tables from one revision to the next."""
