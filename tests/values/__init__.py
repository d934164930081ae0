"""Tests of the frozen values and of the parsers that need no file."""
