"""The flags of every command, light to import: what a command does is imported when it runs."""
