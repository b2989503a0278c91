"""Questions about briefs, heads and the catalogue; every one is bound to an academy, save the shared catalogue."""
