"""The first page, who is at the bench, and what the app says of itself."""
