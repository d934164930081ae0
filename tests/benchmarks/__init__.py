"""Benchmarks: scripts that print, and ratios within one run."""
