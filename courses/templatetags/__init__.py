"""Drawings that templates may ask for: the lash map, with or without what an inspection found on it."""
