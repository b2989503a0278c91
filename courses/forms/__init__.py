"""What people type about heads and briefs, checked before a service sees it."""
