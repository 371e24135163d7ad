"""The table of sealed estimates: older ones thinned, rounded and packed, a chunk a row."""

ESTIMATE_CHUNK_TABLES = """
    -- Estimates beside sealed samples. What is in no chunk is still a row of `estimates`; the
    -- newest of a run always is, so that a list of runs unpacks nothing.
    CREATE TABLE estimate_chunks (
        run INTEGER NOT NULL,
        first_seq INTEGER NOT NULL,
        last_seq INTEGER NOT NULL,
        rows INTEGER NOT NULL,
        digest BLOB NOT NULL,
        packed BLOB NOT NULL,
        PRIMARY KEY (run, first_seq)
    ) STRICT;
    CREATE TRIGGER estimate_chunks_are_not_changed BEFORE UPDATE ON estimate_chunks
        BEGIN SELECT RAISE(ABORT, 'estimate chunks are never changed'); END;
    CREATE TRIGGER estimate_chunks_are_not_deleted BEFORE DELETE ON estimate_chunks
        BEGIN SELECT RAISE(ABORT, 'estimate chunks are never deleted'); END;
    """
"""One step of the schema."""
