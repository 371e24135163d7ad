"""The store in, points at a server out: a process of its own that only follows the store."""
