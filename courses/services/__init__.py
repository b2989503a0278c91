"""Writes of the courses floor: each a named verb, atomic and audited."""
