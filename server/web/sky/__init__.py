"""The sky: targets, sites, and what a rig gives under it."""
