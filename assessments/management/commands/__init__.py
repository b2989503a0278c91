"""One module a command; each only translates between the terminal and the services."""
