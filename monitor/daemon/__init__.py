"""The wiring of one yard's watch: where its rooms meet, and which thread turns each part."""
