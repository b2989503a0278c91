"""The Fanlight project: people, academies and plumbing; the lowest of the three floors."""
