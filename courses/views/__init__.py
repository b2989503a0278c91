"""Pages of what is practised and on what."""
