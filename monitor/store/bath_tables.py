"""The baths' ledger as a table: entries are added, corrections are entries, none is edited."""

BATH_TABLES = """
    -- What was done to a bath or found at its leads. `at_utc_ns` is when, `utc_ns` when it was
    -- written down. A correction names the entry that it takes the place of.
    CREATE TABLE bath_entries (
        entry INTEGER PRIMARY KEY AUTOINCREMENT,
        utc_ns INTEGER NOT NULL,
        at_utc_ns INTEGER NOT NULL,
        bath TEXT NOT NULL,
        kind TEXT NOT NULL,
        litres REAL,
        drawn_litres REAL,
        grams_per_litre REAL,
        solution TEXT NOT NULL,
        supply TEXT NOT NULL,
        volts REAL,
        amps_before REAL,
        amps_aimed REAL,
        ohms REAL,
        corrects INTEGER REFERENCES bath_entries,
        text TEXT NOT NULL,
        by TEXT NOT NULL
    ) STRICT;
    CREATE INDEX bath_entries_of_a_bath ON bath_entries (bath, at_utc_ns);
    CREATE TRIGGER bath_entries_are_not_changed BEFORE UPDATE ON bath_entries
        BEGIN SELECT RAISE(ABORT, 'entries are never changed; add a correction'); END;
    CREATE TRIGGER bath_entries_are_not_deleted BEFORE DELETE ON bath_entries
        BEGIN SELECT RAISE(ABORT, 'entries are never deleted; add a correction'); END;
    """
"""One step of the schema."""
