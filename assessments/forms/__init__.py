"""What people type, checked before a service sees it."""
