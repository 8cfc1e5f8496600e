"""The hard-winter test as a shop reads it: figures for machines, pages for people."""
