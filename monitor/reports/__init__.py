"""The weekly report and its figures; reads only."""
