"""The load of a rig: what it carries where, how it balances, what is lifted, what goes in which case."""
