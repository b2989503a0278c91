"""Commands for whoever runs the house."""
