"""The run store's tables, as numbered steps: step N takes a file of version N-1 to version N.

A released step is never edited; a change is a further step. `user_version` is the version.

Times: `t_ns` is nanoseconds since the run began (monotonic), `utc_ns` nanoseconds since 1970 UTC.
A row of `samples` stands for every due poll; `quality` 3 is a poll without an answer.
"""

from monitor.store.first_tables import FIRST_TABLES

APPLICATION_ID = 0x42415456
"""In the file's header ("BATV"), so that no other program's file is taken for a store."""

STEPS: tuple[str, ...] = (
    FIRST_TABLES,
    """
    -- How far a server has what lies here; the forwarder is the only writer of these tables. They
    -- lie in the store so that a store that is set aside, copied or begun anew takes its place
    -- with it: a cursor in a file beside it would skip the first rows of the next one.
    CREATE TABLE forward_targets (
        target INTEGER PRIMARY KEY AUTOINCREMENT,
        place TEXT NOT NULL UNIQUE,
        sent INTEGER NOT NULL DEFAULT 0,
        too_old INTEGER NOT NULL DEFAULT 0,
        left_out INTEGER NOT NULL DEFAULT 0,
        last_ok_utc_ns INTEGER,
        trouble TEXT,
        trouble_utc_ns INTEGER
    ) STRICT;
    -- A run that the forwarder has taken up.
    CREATE TABLE forward_runs (
        target INTEGER NOT NULL REFERENCES forward_targets,
        run INTEGER NOT NULL,
        PRIMARY KEY (target, run)
    ) STRICT, WITHOUT ROWID;
    -- What is still to be sent: the cursor is next_place, and it moves only when a server has
    -- taken what lies before it. A place is the seq of a reading or estimate, or the number of an
    -- alarm's event or a mark's text within the run. ends NULL follows the run.
    CREATE TABLE forward_stretches (
        stretch INTEGER PRIMARY KEY AUTOINCREMENT,
        target INTEGER NOT NULL REFERENCES forward_targets,
        run INTEGER NOT NULL,
        kind TEXT NOT NULL CHECK (kind IN ('reading', 'estimate', 'alarm', 'mark')),
        next_place INTEGER NOT NULL,
        ends INTEGER,
        is_again INTEGER NOT NULL DEFAULT 0
    ) STRICT;
    CREATE INDEX forward_stretches_of_a_target ON forward_stretches (target, kind, run);
    -- Taken by the server a short while ago: a server that is killed may lose it again.
    CREATE TABLE forward_acknowledged (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        target INTEGER NOT NULL REFERENCES forward_targets,
        run INTEGER NOT NULL,
        kind TEXT NOT NULL,
        began INTEGER NOT NULL,
        ends INTEGER NOT NULL,
        monotonic_ns INTEGER NOT NULL
    ) STRICT;
    -- Points that the server will not have, with its words; the rows themselves stay.
    CREATE TABLE forward_quarantine (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        target INTEGER NOT NULL REFERENCES forward_targets,
        utc_ns INTEGER NOT NULL,
        line TEXT NOT NULL,
        words TEXT NOT NULL,
        UNIQUE (target, line)
    ) STRICT;
    """,
    """
    -- How the recorder itself stands: the sound, the notices, the machine. One row a name, the
    -- newest; is_well NULL is "not known yet".
    CREATE TABLE status (
        run INTEGER NOT NULL,
        name TEXT NOT NULL,
        utc_ns INTEGER NOT NULL,
        text TEXT NOT NULL,
        is_well INTEGER,
        PRIMARY KEY (run, name)
    ) STRICT, WITHOUT ROWID;
    -- Settings that were other ones when an interrupted run was taken up again.
    CREATE TABLE setting_changes (
        run INTEGER NOT NULL,
        t_ns INTEGER NOT NULL,
        utc_ns INTEGER NOT NULL,
        name TEXT NOT NULL,
        before TEXT NOT NULL,
        after TEXT NOT NULL,
        PRIMARY KEY (run, t_ns, name)
    ) STRICT, WITHOUT ROWID;
    """,
    """
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
    """,
    """
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
    """,
    """
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
    """,
    """
    -- The customer's own reference; blank on cards of before.
    ALTER TABLE job_cards ADD COLUMN reference TEXT NOT NULL DEFAULT '';
    """,
    """
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
    """,
    # What to do about one occurrence of an alarm, where it is not what the catalogue says.
    "ALTER TABLE alarms ADD COLUMN action TEXT NOT NULL DEFAULT '';",
    """
    -- Titrations, and caustic that was added.
    ALTER TABLE bath_entries ADD COLUMN carbonate_grams_per_litre REAL;
    ALTER TABLE bath_entries ADD COLUMN caustic_grams REAL;
    """,
    """
    -- Two questions at the rinse: is the chromium gone, and does the water film hold? Before, a
    -- film that held without a haze was taken for chromium that is gone.
    ALTER TABLE outcomes RENAME COLUMN wetted TO film_holds;
    ALTER TABLE outcomes ADD COLUMN gone TEXT CHECK (gone IN ('yes', 'patches', 'no'));
    UPDATE outcomes SET gone = CASE WHEN hazy = 1 THEN 'patches' WHEN film_holds = 1 THEN 'yes' END;
    ALTER TABLE outcomes DROP COLUMN hazy;
    """,
    # What the operator confirmed of the start card's checklist, names separated by blanks.
    "ALTER TABLE job_cards ADD COLUMN checked TEXT NOT NULL DEFAULT '';",
    # How long the operator needs to the supply; NULL on cards of before, and where not answered.
    "ALTER TABLE job_cards ADD COLUMN reaction_s REAL;",
)

VERSION = len(STEPS)

OLDEST_READ = 8
SHOWN_AS = {
    9: "CREATE TEMP VIEW alarms AS SELECT *, '' AS action FROM main.alarms",
    10: "CREATE TEMP VIEW bath_entries AS SELECT *, NULL AS carbonate_grams_per_litre, "
    "NULL AS caustic_grams FROM main.bath_entries",
    11: "CREATE TEMP VIEW outcomes AS SELECT outcome, run, utc_ns, wetted AS film_holds, by, "
    "CASE WHEN hazy = 1 THEN 'patches' WHEN wetted = 1 THEN 'yes' END AS gone FROM main.outcomes",
    # Version 13, too, where the store is older than both.
    12: "CREATE TEMP VIEW job_cards AS "
    "SELECT *, '' AS checked, NULL AS reaction_s FROM main.job_cards",
    13: "CREATE TEMP VIEW IF NOT EXISTS job_cards AS "
    "SELECT *, NULL AS reaction_s FROM main.job_cards",
}
"""How a reader sees a store that lacks a step, by the step's number: a view takes the table's place
for this connection alone, so that looking at an older store changes nothing in it."""
