"""The Shelf: the catalogue of parts, and what an observer has of it."""
