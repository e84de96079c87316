-- What a probe told from the fermenter, and when the beer was packaged.

CREATE TABLE fermenter (
    batch INTEGER NOT NULL REFERENCES batch (id),
    at_utc_s REAL NOT NULL,             -- when it was told
    at_c REAL NOT NULL,                 -- temperature
    gravity_sg REAL,                    -- at 20 °C, NULL where the probe tells none
    PRIMARY KEY (batch, at_utc_s)
) STRICT, WITHOUT ROWID;

CREATE TABLE packaging (
    batch INTEGER PRIMARY KEY REFERENCES batch (id),
    at_utc_s REAL NOT NULL
) STRICT;
