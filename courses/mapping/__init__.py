"""Arithmetic of a lash map and its fans: plain numbers in, plain numbers out."""
