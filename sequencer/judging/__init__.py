"""Scoring: arrays in, arrays out. Nothing here knows a file, a clock or an instrument."""
