"""Frames: a rig's own frames measured, and what they say of it."""
