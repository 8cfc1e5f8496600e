"""The configuration: TOML files in, checked objects out. Only the wiring reads files."""
