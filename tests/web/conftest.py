"""What tests of the page may ask for."""

from tests.reports.stores import empty_store, store

__all__ = ["empty_store", "store"]
