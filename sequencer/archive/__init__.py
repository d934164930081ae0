"""One SQLite file of runs, each an append-only journal."""

from sequencer.archive.entries import Entry, FrozenText, RunSummary
from sequencer.archive.journal import Archive

__all__ = ["Archive", "Entry", "FrozenText", "RunSummary"]
