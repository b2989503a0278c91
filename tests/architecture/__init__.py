"""The house rules, kept by machines."""
