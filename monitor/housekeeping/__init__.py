"""The jobs that have their hours: run on the machine's clock, each apart from all others."""
