-- +goose Up
-- Moments are microseconds since 1970, UTC. Bodies are JSON text, to be given back byte by byte. Names sort
-- by their bytes ("C"), as in the other engine.

-- The one row that a probe of the store changes. Who writes locks the table: one writer at a time, whatever
-- the process.
CREATE TABLE writer (
    one    BIGINT PRIMARY KEY CHECK (one = 1),
    probes BIGINT NOT NULL
);
INSERT INTO writer (one, probes) VALUES (1, 0);

CREATE TABLE shops (
    shop TEXT COLLATE "C" PRIMARY KEY
);

CREATE TABLE planters (
    shop     TEXT COLLATE "C" NOT NULL,
    id       TEXT COLLATE "C" NOT NULL,
    revision BIGINT NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (shop, id)
);

CREATE TABLE fixtures (
    shop     TEXT COLLATE "C" NOT NULL,
    id       TEXT COLLATE "C" NOT NULL,
    revision BIGINT NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (shop, id)
);

-- What lists can be filtered by; place is where the thing stands in its list.
CREATE TABLE terms (
    shop  TEXT COLLATE "C" NOT NULL,
    kind  TEXT COLLATE "C" NOT NULL,
    name  TEXT COLLATE "C" NOT NULL,
    value TEXT COLLATE "C" NOT NULL,
    place TEXT COLLATE "C" NOT NULL,
    PRIMARY KEY (shop, kind, name, value, place)
);
CREATE INDEX terms_of_one ON terms (shop, kind, place);

CREATE TABLE jobs (
    shop         TEXT COLLATE "C" NOT NULL,
    planter      TEXT COLLATE "C" NOT NULL,
    job          TEXT COLLATE "C" NOT NULL,
    place        TEXT COLLATE "C" NOT NULL,
    fixture      TEXT COLLATE "C" NOT NULL,
    work_order   TEXT COLLATE "C" NOT NULL,
    external_ids TEXT NOT NULL,
    stage        BIGINT NOT NULL,
    revision     BIGINT NOT NULL,
    create_time  BIGINT NOT NULL,
    update_time  BIGINT NOT NULL,
    PRIMARY KEY (shop, planter, job),
    FOREIGN KEY (shop, planter) REFERENCES planters (shop, id)
);
CREATE UNIQUE INDEX jobs_by_place ON jobs (shop, place);

CREATE TABLE events (
    shop     TEXT COLLATE "C" NOT NULL,
    planter  TEXT COLLATE "C" NOT NULL,
    job      TEXT COLLATE "C" NOT NULL,
    revision BIGINT NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (shop, planter, job, revision)
);

CREATE TABLE answers (
    shop       TEXT COLLATE "C" NOT NULL,
    request_id TEXT COLLATE "C" NOT NULL,
    method     TEXT COLLATE "C" NOT NULL,
    body_hash  TEXT COLLATE "C" NOT NULL,
    response   BYTEA NOT NULL,
    time       BIGINT NOT NULL,
    PRIMARY KEY (shop, request_id)
);

CREATE TABLE keys (
    shop        TEXT COLLATE "C" NOT NULL,
    id          TEXT COLLATE "C" NOT NULL,
    role        BIGINT NOT NULL,
    label       TEXT COLLATE "C" NOT NULL,
    hash        TEXT COLLATE "C" NOT NULL UNIQUE,
    job_planter TEXT COLLATE "C" NOT NULL,
    job         TEXT COLLATE "C" NOT NULL,
    create_time BIGINT NOT NULL,
    expire_time BIGINT NOT NULL,
    revoke_time BIGINT NOT NULL,
    PRIMARY KEY (shop, id)
);

CREATE TABLE pairings (
    code_hash   TEXT COLLATE "C" PRIMARY KEY,
    shop        TEXT COLLATE "C" NOT NULL,
    role        BIGINT NOT NULL,
    label       TEXT COLLATE "C" NOT NULL,
    expire_time BIGINT NOT NULL
);

CREATE TABLE audit (
    serial     BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    shop       TEXT COLLATE "C" NOT NULL,
    time       BIGINT NOT NULL,
    key_label  TEXT COLLATE "C" NOT NULL,
    method     TEXT COLLATE "C" NOT NULL,
    resource   TEXT COLLATE "C" NOT NULL,
    request_id TEXT COLLATE "C" NOT NULL
);
CREATE INDEX audit_by_shop ON audit (shop, serial);
