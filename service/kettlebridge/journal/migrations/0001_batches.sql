-- A batch's record: what it was started with, what every tick was given, and what happened.

CREATE TABLE batch (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,          -- the batch as everybody else calls it
    kettle TEXT NOT NULL,
    profile TEXT NOT NULL,
    started_utc_s REAL NOT NULL,
    plan TEXT NOT NULL,                 -- JSON
    program TEXT NOT NULL,              -- versions that the batch was started with
    python TEXT NOT NULL,
    ended TEXT,                         -- state it ended in; NULL while it is open
    incomplete_from INTEGER             -- first tick that was lost; NULL while none was
) STRICT;

CREATE TABLE tick (
    batch INTEGER NOT NULL REFERENCES batch (id),
    n INTEGER NOT NULL,                 -- from 0, without gaps before incomplete_from
    now_s REAL NOT NULL,
    at_utc_s REAL NOT NULL,
    inputs TEXT NOT NULL,               -- JSON array by position
    PRIMARY KEY (batch, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE event (
    batch INTEGER NOT NULL REFERENCES batch (id),
    n INTEGER NOT NULL,                 -- the tick that it came of
    position INTEGER NOT NULL,          -- from 0 within the tick
    code TEXT NOT NULL,
    data TEXT NOT NULL,                 -- JSON object: its values
    PRIMARY KEY (batch, n, position)
) STRICT, WITHOUT ROWID;
