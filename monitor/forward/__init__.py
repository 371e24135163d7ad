"""The copy of the store at a server, kept by a process of its own that only follows the store."""
