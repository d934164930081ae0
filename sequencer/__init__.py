"""Sequencer for tests of handheld multimeters: files in, a run, a record, a report."""

__version__ = "0.1.0"
