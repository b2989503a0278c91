"""Template tags: numbers into words, and the drawings that need arithmetic."""
