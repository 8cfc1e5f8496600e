"""Server-rendered pages over the store."""
