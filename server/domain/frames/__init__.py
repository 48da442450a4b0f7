"""A user's own frames: what to take, what was measured, what it says of the rig."""
