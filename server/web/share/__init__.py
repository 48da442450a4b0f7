"""A link to one entry, for whoever holds it."""
