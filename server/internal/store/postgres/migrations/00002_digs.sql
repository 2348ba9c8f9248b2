-- +goose Up
-- Seeds dug in the field; id is PLANTER/DIG, so that a planter's digs lie side by side.
CREATE TABLE digs (
    shop     TEXT COLLATE "C" NOT NULL,
    id       TEXT COLLATE "C" NOT NULL,
    revision BIGINT NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (shop, id)
);
