"""Writes of the academy floor: each a named verb, atomic and audited."""
