"""Judges that are not ours: what the program hands out, read by independent programs."""
