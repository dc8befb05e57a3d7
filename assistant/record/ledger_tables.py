"""The ledger's tables: one row for each check, fault, worn item, job and doing of the shop, and counts by month.

A page reads a few indexed rows or counts, however long the record is. A day is the local date of a check's
start. `seq` is always an event's number in the log: order is by it, never by a clock. An item's `number` is
empty for an unmarked one. Columns `who` hold the digest of a name, never the name.
"""

from __future__ import annotations

TABLES = (
    "CREATE TABLE note (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT",
    """CREATE TABLE checks (seq INTEGER PRIMARY KEY, session TEXT NOT NULL UNIQUE, day TEXT NOT NULL,
    started TEXT NOT NULL, title TEXT, who TEXT, verdict TEXT, reasons TEXT, answers INTEGER NOT NULL DEFAULT 0,
    faults INTEGER NOT NULL DEFAULT 0, swaps INTEGER NOT NULL DEFAULT 0, doubts INTEGER NOT NULL DEFAULT 0,
    notes INTEGER NOT NULL DEFAULT 0, stopped INTEGER NOT NULL DEFAULT 0, lasted_s REAL, last_seq INTEGER NOT NULL,
    device TEXT NOT NULL, clock TEXT, boot TEXT NOT NULL, monotonic_us INTEGER NOT NULL) STRICT""",
    "CREATE INDEX checks_day ON checks (day, seq)",
    "CREATE INDEX checks_who ON checks (who)",
    """CREATE TABLE worn (seq INTEGER NOT NULL, item TEXT NOT NULL, number TEXT NOT NULL, since INTEGER NOT NULL,
    until INTEGER, PRIMARY KEY (seq, item, since)) STRICT, WITHOUT ROWID""",
    "CREATE INDEX worn_item ON worn (item, number, seq)",
    """CREATE TABLE faults (seq INTEGER PRIMARY KEY, check_seq INTEGER NOT NULL, day TEXT NOT NULL, step TEXT NOT NULL,
    code TEXT NOT NULL, item TEXT NOT NULL, number TEXT NOT NULL, said TEXT, age_months INTEGER,
    apart INTEGER NOT NULL DEFAULT 0, withdrawn INTEGER NOT NULL DEFAULT 0) STRICT""",
    "CREATE INDEX faults_check ON faults (check_seq)",
    "CREATE INDEX faults_day ON faults (day)",
    "CREATE INDEX faults_item ON faults (item, number, seq)",
    "CREATE INDEX faults_kind ON faults (step, code, seq)",
    """CREATE TABLE fault_counts (month TEXT NOT NULL, item TEXT NOT NULL, step TEXT NOT NULL, code TEXT NOT NULL,
    age_years INTEGER NOT NULL, faults INTEGER NOT NULL, PRIMARY KEY (month, item, step, code, age_years)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE month_counts (month TEXT NOT NULL, what TEXT NOT NULL, count REAL NOT NULL,
    PRIMARY KEY (month, what)) STRICT, WITHOUT ROWID""",
    """CREATE TABLE step_counts (month TEXT NOT NULL, step TEXT NOT NULL, what TEXT NOT NULL, count INTEGER NOT NULL,
    PRIMARY KEY (month, step, what)) STRICT, WITHOUT ROWID""",
    """CREATE TABLE items (item TEXT NOT NULL, number TEXT NOT NULL, first_day TEXT NOT NULL, last_day TEXT NOT NULL,
    checks INTEGER NOT NULL DEFAULT 0, uses INTEGER NOT NULL DEFAULT 0, faults INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (item, number)) STRICT, WITHOUT ROWID""",
    """CREATE TABLE dated (item TEXT NOT NULL, number TEXT NOT NULL, what TEXT NOT NULL, "on" TEXT NOT NULL,
    uses_then INTEGER NOT NULL, seq INTEGER NOT NULL, PRIMARY KEY (item, number, what)) STRICT, WITHOUT ROWID""",
    """CREATE TABLE jobs (seq INTEGER PRIMARY KEY, item TEXT NOT NULL, number TEXT NOT NULL, day TEXT NOT NULL,
    check_seq INTEGER, step TEXT, code TEXT, why TEXT, state TEXT NOT NULL, last_seq INTEGER NOT NULL) STRICT""",
    "CREATE INDEX jobs_state ON jobs (state, seq)",
    "CREATE INDEX jobs_item ON jobs (item, number, seq)",
    "CREATE INDEX jobs_day ON jobs (day)",
    "CREATE INDEX jobs_check ON jobs (check_seq)",
    """CREATE TABLE doings (seq INTEGER PRIMARY KEY, kind TEXT NOT NULL, day TEXT NOT NULL, at TEXT NOT NULL,
    job INTEGER, item TEXT, number TEXT, about_day TEXT, about_check TEXT, who TEXT, facts TEXT NOT NULL) STRICT""",
    "CREATE INDEX doings_job ON doings (job)",
    "CREATE INDEX doings_item ON doings (item, number, seq)",
    "CREATE INDEX doings_day ON doings (about_day)",
    "CREATE INDEX doings_check ON doings (about_check)",
    """CREATE TABLE carried (session TEXT PRIMARY KEY, from_day TEXT NOT NULL, seq INTEGER NOT NULL) STRICT""",
    """CREATE TABLE called (session TEXT PRIMARY KEY, plan TEXT NOT NULL, trip INTEGER, place INTEGER,
    after_dive INTEGER NOT NULL) STRICT""",
    """CREATE TABLE trips (plan TEXT NOT NULL, trip INTEGER NOT NULL, day TEXT NOT NULL, name TEXT,
    divers INTEGER NOT NULL DEFAULT 0, verdict TEXT, facts TEXT, seq INTEGER,
    PRIMARY KEY (plan, trip)) STRICT, WITHOUT ROWID""",
    "CREATE INDEX trips_day ON trips (day, plan, trip)",
)
OPEN_STATES = "('apart', 'worked', 'failed', 'passed')"
CLOSED_STATES = "('back', 'undone')"
