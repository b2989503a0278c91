"""Questions about briefs, heads and the catalogue; all but the catalogue are bound to an academy."""
