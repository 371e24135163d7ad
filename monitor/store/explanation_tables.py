"""The table of what made strips stop."""

EXPLANATION_TABLES = """
    -- One row for each stop: what came first, what was seen of it, and in `events` the order of
    -- events as a JSON list of [t_s, words].
    CREATE TABLE explanations (
        run INTEGER NOT NULL,
        seq INTEGER NOT NULL,
        t_ns INTEGER NOT NULL,
        cause TEXT NOT NULL,
        sentence TEXT NOT NULL,
        series TEXT NOT NULL,
        events TEXT NOT NULL,
        PRIMARY KEY (run, seq, cause)
    ) STRICT, WITHOUT ROWID;
    """
