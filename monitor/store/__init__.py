"""The run store: one SQLite file, where the recorder, the screens and the commands meet."""
