"""Renders a record as pages."""
