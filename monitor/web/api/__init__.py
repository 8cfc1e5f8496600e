"""The yard as JSON: one module for what it serves, and what all of them share."""
