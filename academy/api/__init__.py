"""Doors for other software, and for the bench's own scripts."""
