"""Questions to the database about people; every one is bound to an academy."""
