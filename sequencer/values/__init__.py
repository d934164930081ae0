"""Frozen values that travel between the rooms, and the text parsers that need no file."""
