-- +goose Up
-- Addresses that hear of a shop's jobs, with the secrets that sign what they hear.
CREATE TABLE hooks (
    shop     TEXT NOT NULL,
    id       TEXT NOT NULL,
    revision INTEGER NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (shop, id)
) STRICT;

-- What hooks hear, written with what it tells of. state: 1 waits, 2 arrived, 3 was given up. due is when it is
-- sent next, and 0 where it waits for one before it, or has ended; who takes it to send puts due off, so that nobody
-- else does, and it is due again where that one dies.
CREATE TABLE deliveries (
    serial       INTEGER PRIMARY KEY AUTOINCREMENT,
    shop         TEXT NOT NULL,
    hook         TEXT NOT NULL,
    id           TEXT NOT NULL,
    job          TEXT NOT NULL,
    event        TEXT NOT NULL,
    body         TEXT NOT NULL,
    state        INTEGER NOT NULL,
    attempts     INTEGER NOT NULL,
    create_time  INTEGER NOT NULL,
    first_time   INTEGER NOT NULL,
    due          INTEGER NOT NULL,
    end_time     INTEGER NOT NULL,
    last_status  INTEGER NOT NULL,
    last_problem TEXT NOT NULL,
    UNIQUE (shop, hook, id)
) STRICT;
CREATE INDEX deliveries_by_hook ON deliveries (shop, hook, serial);
CREATE INDEX deliveries_due ON deliveries (shop, hook, due) WHERE due > 0;
CREATE INDEX deliveries_waiting ON deliveries (shop, hook, job, serial) WHERE state = 1;
CREATE INDEX deliveries_ended ON deliveries (end_time) WHERE end_time > 0;

-- What a shop's software follows of the trail.
CREATE INDEX audit_changes ON audit (shop, serial) WHERE method IN ('CreateJob', 'PlanJob', 'SignJob', 'VoidJob', 'CreatePlanter', 'UpdatePlanter', 'DeletePlanter');
