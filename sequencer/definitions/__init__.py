"""TOML to values, every fault with file, line and column."""
