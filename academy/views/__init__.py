"""Pages of people and academies: they translate between HTTP and the services."""
