"""One SQLite file, an append-only journal."""
