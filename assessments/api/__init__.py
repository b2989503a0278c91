"""The bench and its marks for scripts and other software."""
