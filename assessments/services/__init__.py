"""Writes of the assessments floor: each a named verb, atomic and audited."""
