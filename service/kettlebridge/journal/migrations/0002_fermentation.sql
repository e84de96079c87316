-- What was measured in the fermenter, after the batch was over in the kettle.

CREATE TABLE fermentation (
    batch INTEGER NOT NULL REFERENCES batch (id),
    at_utc_s REAL NOT NULL,             -- when it was measured
    read_sg REAL NOT NULL,              -- as the hydrometer showed it
    at_c REAL NOT NULL,                 -- of the sample
    gravity_sg REAL NOT NULL,           -- the same at 20 °C
    PRIMARY KEY (batch, at_utc_s)
) STRICT, WITHOUT ROWID;
