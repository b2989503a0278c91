"""The demo academy: a story read from fixtures and told through the services."""
