"""The one account of how the watch stands, which every outlet tells."""
