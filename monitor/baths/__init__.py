"""The bench around the run: what a part takes, what a bath has been through, what to do with it."""
