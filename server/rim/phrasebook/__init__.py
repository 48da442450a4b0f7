"""The phrasebook: the words of every verdict, one module a check, and how they are put together."""
