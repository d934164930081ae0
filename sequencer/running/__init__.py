"""Answers the run machine's requests: everything that touches the world."""
