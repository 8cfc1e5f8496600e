"""What tests of reports may ask for."""

from tests.reports.stores import empty_store, store

__all__ = ["empty_store", "store"]
