"""The outbox emptied over channels."""
