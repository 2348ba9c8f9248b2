-- +goose Up
-- Moments are microseconds since 1970, UTC. Bodies are JSON text.

-- The one row that a probe of the store changes.
CREATE TABLE writer (
    one    INTEGER PRIMARY KEY CHECK (one = 1),
    probes INTEGER NOT NULL
) STRICT;
INSERT INTO writer (one, probes) VALUES (1, 0);

CREATE TABLE shops (
    shop TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;

CREATE TABLE planters (
    shop     TEXT NOT NULL,
    id       TEXT NOT NULL,
    revision INTEGER NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (shop, id)
) STRICT;

CREATE TABLE fixtures (
    shop     TEXT NOT NULL,
    id       TEXT NOT NULL,
    revision INTEGER NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (shop, id)
) STRICT;

-- What lists can be filtered by; place is where the thing stands in its list.
CREATE TABLE terms (
    shop  TEXT NOT NULL,
    kind  TEXT NOT NULL,
    name  TEXT NOT NULL,
    value TEXT NOT NULL,
    place TEXT NOT NULL,
    PRIMARY KEY (shop, kind, name, value, place)
) STRICT, WITHOUT ROWID;
CREATE INDEX terms_of_one ON terms (shop, kind, place);

CREATE TABLE jobs (
    shop         TEXT NOT NULL,
    planter      TEXT NOT NULL,
    job          TEXT NOT NULL,
    place        TEXT NOT NULL,
    fixture      TEXT NOT NULL,
    work_order   TEXT NOT NULL,
    external_ids TEXT NOT NULL,
    stage        INTEGER NOT NULL,
    revision     INTEGER NOT NULL,
    create_time  INTEGER NOT NULL,
    update_time  INTEGER NOT NULL,
    PRIMARY KEY (shop, planter, job),
    FOREIGN KEY (shop, planter) REFERENCES planters (shop, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX jobs_by_place ON jobs (shop, place);

-- A job's events lie side by side.
CREATE TABLE events (
    shop     TEXT NOT NULL,
    planter  TEXT NOT NULL,
    job      TEXT NOT NULL,
    revision INTEGER NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (shop, planter, job, revision)
) STRICT, WITHOUT ROWID;

CREATE TABLE answers (
    shop       TEXT NOT NULL,
    request_id TEXT NOT NULL,
    method     TEXT NOT NULL,
    body_hash  TEXT NOT NULL,
    response   BLOB NOT NULL,
    time       INTEGER NOT NULL,
    PRIMARY KEY (shop, request_id)
) STRICT;

CREATE TABLE keys (
    shop        TEXT NOT NULL,
    id          TEXT NOT NULL,
    role        INTEGER NOT NULL,
    label       TEXT NOT NULL,
    hash        TEXT NOT NULL UNIQUE,
    job_planter TEXT NOT NULL,
    job         TEXT NOT NULL,
    create_time INTEGER NOT NULL,
    expire_time INTEGER NOT NULL,
    revoke_time INTEGER NOT NULL,
    PRIMARY KEY (shop, id)
) STRICT;

CREATE TABLE pairings (
    code_hash   TEXT PRIMARY KEY,
    shop        TEXT NOT NULL,
    role        INTEGER NOT NULL,
    label       TEXT NOT NULL,
    expire_time INTEGER NOT NULL
) STRICT;

CREATE TABLE audit (
    serial     INTEGER PRIMARY KEY,
    shop       TEXT NOT NULL,
    time       INTEGER NOT NULL,
    key_label  TEXT NOT NULL,
    method     TEXT NOT NULL,
    resource   TEXT NOT NULL,
    request_id TEXT NOT NULL
) STRICT;
CREATE INDEX audit_by_shop ON audit (shop, serial);
