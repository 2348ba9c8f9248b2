-- +goose Up
-- Addresses that hear of a shop's jobs, with the secrets that sign what they hear.
CREATE TABLE hooks (
    shop     TEXT COLLATE "C" NOT NULL,
    id       TEXT COLLATE "C" NOT NULL,
    revision BIGINT NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (shop, id)
);

-- What hooks hear, written with what it tells of. state: 1 waits, 2 arrived, 3 was given up. due is when it is
-- sent next, and 0 where it waits for one before it, or has ended; who takes it to send puts due off, so that nobody
-- else does, and it is due again where that one dies.
CREATE TABLE deliveries (
    serial       BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    shop         TEXT COLLATE "C" NOT NULL,
    hook         TEXT COLLATE "C" NOT NULL,
    id           TEXT COLLATE "C" NOT NULL,
    job          TEXT COLLATE "C" NOT NULL,
    event        TEXT COLLATE "C" NOT NULL,
    body         TEXT NOT NULL,
    state        BIGINT NOT NULL,
    attempts     BIGINT NOT NULL,
    create_time  BIGINT NOT NULL,
    first_time   BIGINT NOT NULL,
    due          BIGINT NOT NULL,
    end_time     BIGINT NOT NULL,
    last_status  BIGINT NOT NULL,
    last_problem TEXT NOT NULL,
    UNIQUE (shop, hook, id)
);
CREATE INDEX deliveries_by_hook ON deliveries (shop, hook, serial);
CREATE INDEX deliveries_due ON deliveries (shop, hook, due) WHERE due > 0;
CREATE INDEX deliveries_waiting ON deliveries (shop, hook, job, serial) WHERE state = 1;
CREATE INDEX deliveries_ended ON deliveries (end_time) WHERE end_time > 0;

-- What a shop's software follows of the trail.
CREATE INDEX audit_changes ON audit (shop, serial) WHERE method IN ('CreateJob', 'PlanJob', 'SignJob', 'VoidJob', 'CreatePlanter', 'UpdatePlanter', 'DeletePlanter');
