"""The tables of the job around a run; screens add rows, and nobody edits one."""

JOB_TABLES = """
    -- The job card of a run; a correction is a further row, and the newest counts.
    CREATE TABLE job_cards (
        card INTEGER PRIMARY KEY AUTOINCREMENT,
        run INTEGER NOT NULL REFERENCES runs,
        utc_ns INTEGER NOT NULL,
        bath TEXT NOT NULL,
        step TEXT NOT NULL,
        way TEXT NOT NULL CHECK (way IN ('', 'tank', 'swab')),
        part TEXT NOT NULL,
        area_dm2 REAL,
        micrometres REAL,
        operator TEXT NOT NULL
    ) STRICT;
    CREATE INDEX job_cards_of_a_run ON job_cards (run);
    -- How a strip turned out; the same.
    CREATE TABLE outcomes (
        outcome INTEGER PRIMARY KEY AUTOINCREMENT,
        run INTEGER NOT NULL REFERENCES runs,
        utc_ns INTEGER NOT NULL,
        wetted INTEGER,
        hazy INTEGER,
        by TEXT NOT NULL
    ) STRICT;
    CREATE INDEX outcomes_of_a_run ON outcomes (run);
    """
"""One step of the schema."""

CARD_REFERENCE = """
    -- The customer's own reference; blank on cards of before.
    ALTER TABLE job_cards ADD COLUMN reference TEXT NOT NULL DEFAULT '';
    """
"""A later step."""
