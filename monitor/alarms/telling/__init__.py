"""Who hears of which alarm now, and who has been told of what."""
