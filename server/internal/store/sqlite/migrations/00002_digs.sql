-- +goose Up
-- Seeds dug in the field; id is PLANTER/DIG, so that a planter's digs lie side by side.
CREATE TABLE digs (
    shop     TEXT NOT NULL,
    id       TEXT NOT NULL,
    revision INTEGER NOT NULL,
    body     TEXT NOT NULL,
    PRIMARY KEY (shop, id)
) STRICT;
