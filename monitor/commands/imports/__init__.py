"""What is taken in from files: ``laidup import``."""
