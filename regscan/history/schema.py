"""The tables of a history file, and the steps that bring an older file up to date.

A file says how old it is by SQLite's user_version. Steps are never changed once released;
a new one is added at the end. Each runs once, together with all that are missing, or not at all.
"""

APPLICATION = 0x52475343
"""SQLite's application_id of a history: "RGSC". Any other file is somebody else's."""

# 1: runs, readings, settings.
FIRST = (
    """CREATE TABLE run (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        key TEXT NOT NULL UNIQUE,
        made_at TEXT NOT NULL,
        made_s REAL NOT NULL,
        added_at TEXT NOT NULL,
        kind TEXT NOT NULL,
        job TEXT NOT NULL,
        press TEXT NOT NULL,
        reference TEXT NOT NULL,
        answer TEXT NOT NULL,
        folder TEXT NOT NULL,
        frames_found INTEGER NOT NULL,
        frames_used INTEGER NOT NULL,
        metres REAL,
        metres_outside REAL,
        speed_m_min REAL,
        regscan_version TEXT NOT NULL,
        document BLOB NOT NULL
    ) STRICT""",
    """CREATE TABLE reading (
        run INTEGER NOT NULL REFERENCES run(number) ON DELETE CASCADE,
        station INTEGER NOT NULL,
        ink TEXT NOT NULL,
        axis TEXT NOT NULL,
        measure TEXT NOT NULL,
        value REAL,
        sd REAL,
        tolerance_mm REAL NOT NULL,
        PRIMARY KEY (run, station, ink, axis, measure)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE setting (
        run INTEGER NOT NULL REFERENCES run(number) ON DELETE CASCADE,
        station INTEGER NOT NULL,
        ink TEXT NOT NULL,
        axis TEXT NOT NULL,
        first_mm REAL,
        first_sd_mm REAL,
        last_mm REAL,
        last_sd_mm REAL,
        speed_m_min REAL,
        step_mm REAL NOT NULL,
        tolerance_mm REAL NOT NULL,
        move_mm REAL,
        words TEXT NOT NULL,
        PRIMARY KEY (run, station, ink, axis)
    ) STRICT, WITHOUT ROWID""",
)

# 2: runs found by press and time without reading their documents; notes that people write.
SECOND = (
    "CREATE INDEX run_by_press ON run (press, made_s)",
    "CREATE INDEX run_by_job ON run (job, press, made_s)",
    "ALTER TABLE run ADD COLUMN note TEXT NOT NULL DEFAULT ''",
)

STEPS: tuple[tuple[str, ...], ...] = (FIRST, SECOND)
NEWEST = len(STEPS)
