"""The tables of the first version of the store; never edited."""

FIRST_TABLES = """
    CREATE TABLE modes (code INTEGER PRIMARY KEY, word TEXT NOT NULL) STRICT;
    INSERT INTO modes VALUES (0, 'unknown'), (1, 'constant-voltage'), (2, 'constant-current'),
                             (3, 'cut-out'), (4, 'output-off');
    CREATE TABLE qualities (code INTEGER PRIMARY KEY, word TEXT NOT NULL) STRICT;
    INSERT INTO qualities VALUES (0, 'good'), (1, 'late'), (2, 'suspect'), (3, 'missing');

    CREATE TABLE runs (
        run INTEGER PRIMARY KEY AUTOINCREMENT,
        supply TEXT NOT NULL,
        address TEXT NOT NULL,
        identity TEXT NOT NULL DEFAULT '',
        bath TEXT NOT NULL DEFAULT '',
        bath_litres REAL,
        limit_amps REAL NOT NULL,
        limit_kind TEXT NOT NULL CHECK (limit_kind IN ('trips', 'limits')),
        poll_s REAL NOT NULL,
        horizon_s REAL NOT NULL,
        clock_speed REAL NOT NULL DEFAULT 1.0,
        settings TEXT NOT NULL DEFAULT '{}',
        program TEXT NOT NULL,
        began_utc_ns INTEGER NOT NULL,
        utc_offset_s INTEGER NOT NULL,
        ended_utc_ns INTEGER,
        ended_t_ns INTEGER,
        ended_why TEXT
    ) STRICT;

    -- A run that outlived a recorder has several segments; monotonic times compare within one boot.
    CREATE TABLE segments (
        run INTEGER NOT NULL REFERENCES runs,
        segment INTEGER NOT NULL,
        boot_id TEXT NOT NULL,
        pid INTEGER NOT NULL,
        began_seq INTEGER NOT NULL,
        began_t_ns INTEGER NOT NULL,
        began_utc_ns INTEGER NOT NULL,
        began_monotonic_ns INTEGER NOT NULL,
        clock_anchor_monotonic_ns INTEGER NOT NULL,
        clock_anchor_utc_ns INTEGER NOT NULL,
        cause TEXT NOT NULL,
        PRIMARY KEY (run, segment)
    ) STRICT, WITHOUT ROWID;

    CREATE TABLE samples (
        run INTEGER NOT NULL,
        seq INTEGER NOT NULL,
        t_ns INTEGER NOT NULL,
        utc_ns INTEGER NOT NULL,
        latency_us INTEGER,
        volts REAL,
        amps REAL,
        celsius REAL,
        mode INTEGER NOT NULL,
        quality INTEGER NOT NULL,
        reason TEXT,
        PRIMARY KEY (run, seq)
    ) STRICT, WITHOUT ROWID;
    CREATE TRIGGER samples_are_not_changed BEFORE UPDATE ON samples
        BEGIN SELECT RAISE(ABORT, 'samples are never changed'); END;
    -- Older rows are sealed: packed into a chunk, column by column, once the unpacked copy was
    -- found equal to the bit. Only a row that lies in a chunk may go, and a chunk never changes.
    CREATE TABLE chunks (
        run INTEGER NOT NULL,
        first_seq INTEGER NOT NULL,
        last_seq INTEGER NOT NULL,
        rows INTEGER NOT NULL,
        low_t_ns INTEGER NOT NULL,
        high_t_ns INTEGER NOT NULL,
        digest BLOB NOT NULL,
        seq_packed BLOB NOT NULL,
        t_ns_packed BLOB NOT NULL,
        utc_ns_packed BLOB NOT NULL,
        latency_us_packed BLOB NOT NULL,
        volts_packed BLOB NOT NULL,
        amps_packed BLOB NOT NULL,
        celsius_packed BLOB NOT NULL,
        mode_packed BLOB NOT NULL,
        quality_packed BLOB NOT NULL,
        reason_packed BLOB NOT NULL,
        PRIMARY KEY (run, first_seq)
    ) STRICT;
    CREATE TRIGGER samples_are_not_deleted BEFORE DELETE ON samples
        WHEN old.seq > coalesce((SELECT last_seq FROM chunks WHERE run = old.run
                                 AND first_seq <= old.seq ORDER BY first_seq DESC LIMIT 1), -1)
        BEGIN SELECT RAISE(ABORT, 'samples are never deleted'); END;
    CREATE TRIGGER chunks_do_not_overlap BEFORE INSERT ON chunks
        WHEN new.first_seq <= (SELECT last_seq FROM chunks WHERE run = new.run
                               ORDER BY first_seq DESC LIMIT 1)
        BEGIN SELECT RAISE(ABORT, 'chunks come in order'); END;
    CREATE TRIGGER chunks_are_not_changed BEFORE UPDATE ON chunks
        BEGIN SELECT RAISE(ABORT, 'chunks are never changed'); END;
    CREATE TRIGGER chunks_are_not_deleted BEFORE DELETE ON chunks
        BEGIN SELECT RAISE(ABORT, 'chunks are never deleted'); END;

    -- An ended run all of whose rows are sealed: the digest of its chunks' digests.
    CREATE TABLE seals (
        run INTEGER PRIMARY KEY REFERENCES runs,
        rows INTEGER NOT NULL,
        digest BLOB NOT NULL
    ) STRICT;
    CREATE TRIGGER seals_are_not_changed BEFORE UPDATE ON seals
        BEGIN SELECT RAISE(ABORT, 'seals are never changed'); END;
    CREATE TRIGGER seals_are_not_deleted BEFORE DELETE ON seals
        BEGIN SELECT RAISE(ABORT, 'seals are never deleted'); END;

    -- What charts draw: each row stands for the polls of one block, `scale` polls from seq
    -- number * scale on. A block is written when the first row behind it is.
    CREATE TABLE blocks (
        run INTEGER NOT NULL,
        scale INTEGER NOT NULL,
        number INTEGER NOT NULL,
        low_t_ns INTEGER NOT NULL,
        high_t_ns INTEGER NOT NULL,
        samples INTEGER NOT NULL,
        suspect INTEGER NOT NULL,
        missing INTEGER NOT NULL,
        volts_low REAL, volts_high REAL, volts_mean REAL, volts_values INTEGER NOT NULL,
        amps_low REAL, amps_high REAL, amps_mean REAL, amps_values INTEGER NOT NULL,
        celsius_low REAL, celsius_high REAL, celsius_mean REAL, celsius_values INTEGER NOT NULL,
        PRIMARY KEY (run, scale, number)
    ) STRICT, WITHOUT ROWID;

    -- How many polls were answered and how many not, so that a list of runs counts no rows.
    CREATE TABLE tallies (
        run INTEGER PRIMARY KEY REFERENCES runs,
        answered INTEGER NOT NULL,
        missing INTEGER NOT NULL
    ) STRICT;

    -- One row per stretch without answers, with the reason of its first poll. Only ended_* and
    -- polls of the open stretch move. No poll was due while no recorder ran: polls is then 0.
    CREATE TABLE gaps (
        run INTEGER NOT NULL,
        began_seq INTEGER NOT NULL,
        began_t_ns INTEGER NOT NULL,
        ended_t_ns INTEGER,
        polls INTEGER NOT NULL,
        reason TEXT NOT NULL,
        detail TEXT NOT NULL DEFAULT '',
        PRIMARY KEY (run, began_seq)
    ) STRICT, WITHOUT ROWID;

    CREATE TABLE estimates (
        run INTEGER NOT NULL,
        seq INTEGER NOT NULL,
        t_ns INTEGER NOT NULL,
        trip_in_s REAL, trip_in_low_s REAL, trip_in_high_s REAL,
        chance_within_horizon REAL,
        why TEXT,
        amp_hours REAL NOT NULL, amp_hours_low REAL NOT NULL, amp_hours_high REAL NOT NULL,
        coverage REAL NOT NULL,
        siemens REAL, siemens_at_start REAL, siemens_per_minute REAL,
        amps_expected REAL, warming_share REAL, celsius REAL,
        in_contact INTEGER NOT NULL,
        siemens_at_25 REAL, warming_rise REAL,
        hottest TEXT, hottest_share REAL, hottest_in_s REAL, bath_in_s REAL, amps_per_dm2 REAL,
        extra_ohms REAL, polarisation_volts REAL,
        PRIMARY KEY (run, seq)
    ) STRICT, WITHOUT ROWID;

    CREATE TABLE alarms (
        event INTEGER PRIMARY KEY AUTOINCREMENT,
        run INTEGER NOT NULL,
        alarm TEXT NOT NULL,
        occurrence INTEGER NOT NULL,
        change TEXT NOT NULL,
        state TEXT NOT NULL,
        priority TEXT NOT NULL,
        seq INTEGER NOT NULL,
        t_ns INTEGER NOT NULL,
        message TEXT NOT NULL,
        trip_in_s REAL, trip_in_low_s REAL, trip_in_high_s REAL,
        by TEXT,
        UNIQUE (run, alarm, occurrence, change, seq)
    ) STRICT;
    CREATE INDEX alarms_of_a_run ON alarms (run, event);

    CREATE TABLE prompts (
        run INTEGER NOT NULL,
        seq INTEGER NOT NULL,
        t_ns INTEGER NOT NULL,
        prompt TEXT NOT NULL,
        message TEXT NOT NULL,
        PRIMARY KEY (run, seq, prompt)
    ) STRICT, WITHOUT ROWID;

    CREATE TABLE marks (
        mark INTEGER PRIMARY KEY AUTOINCREMENT,
        run INTEGER NOT NULL,
        number INTEGER NOT NULL,
        t_ns INTEGER NOT NULL,
        utc_ns INTEGER NOT NULL,
        text TEXT NOT NULL DEFAULT '',
        UNIQUE (run, number)
    ) STRICT;
    -- Text added later is a further row; the mark itself is never edited.
    CREATE TABLE mark_texts (
        run INTEGER NOT NULL,
        number INTEGER NOT NULL,
        utc_ns INTEGER NOT NULL,
        text TEXT NOT NULL
    ) STRICT;
    CREATE INDEX mark_texts_of_a_run ON mark_texts (run, number);

    -- What the operator asks for; screens insert, the recorder takes up. The one table that
    -- another process than the recorder writes.
    CREATE TABLE requests (
        request INTEGER PRIMARY KEY AUTOINCREMENT,
        run INTEGER NOT NULL,
        utc_ns INTEGER NOT NULL,
        kind TEXT NOT NULL,
        detail TEXT NOT NULL DEFAULT '',
        by TEXT NOT NULL DEFAULT '',
        taken_utc_ns INTEGER,
        outcome TEXT
    ) STRICT;
    CREATE INDEX requests_not_taken ON requests (run) WHERE taken_utc_ns IS NULL;
    """
"""Step 1 of the schema."""
