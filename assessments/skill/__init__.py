"""Where a student stands: estimates of skill from marks, with their uncertainty; pure arithmetic."""
