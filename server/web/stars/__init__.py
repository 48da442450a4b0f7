"""The stars that a rig draws, and those of several rigs side by side."""
