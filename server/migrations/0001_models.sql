-- Boat models and their revisions. A revision is never altered: replacing a model adds one.
-- Types and clauses are those that SQLite and PostgreSQL share.

CREATE TABLE models (
    id              TEXT   NOT NULL PRIMARY KEY,
    latest_revision BIGINT NOT NULL CHECK (latest_revision >= 1)
);

CREATE TABLE revisions (
    model_id    TEXT   NOT NULL REFERENCES models (id) ON DELETE CASCADE,
    number      BIGINT NOT NULL CHECK (number >= 1),
    name        TEXT   NOT NULL, -- of the boat model, as this revision states it
    recorded_at TEXT   NOT NULL, -- RFC 3339, UTC
    who         TEXT   NOT NULL,
    reason      TEXT   NOT NULL,
    stamp       TEXT   NOT NULL, -- identifies the content; printed on every sheet made from it
    body        TEXT   NOT NULL, -- the model file, JSON
    PRIMARY KEY (model_id, number)
);
