"""Plain functions that make the people and things of a test through the models."""
