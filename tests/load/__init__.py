"""A whole club at once: `python -m tests.load` (`__main__.py`)."""
