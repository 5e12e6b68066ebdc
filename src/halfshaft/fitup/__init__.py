"""Where a drive unit can sit in a measured frame, what must be cut for it, and the way in."""
