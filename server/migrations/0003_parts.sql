-- The builder's parts list and its revisions; before the first there is an empty list. A revision
-- is never altered. Types and clauses are those that SQLite and PostgreSQL share.

CREATE TABLE parts_revisions (
    number      BIGINT NOT NULL PRIMARY KEY CHECK (number >= 1),
    recorded_at TEXT   NOT NULL, -- RFC 3339, UTC
    who         TEXT   NOT NULL,
    reason      TEXT   NOT NULL,
    stamp       TEXT   NOT NULL, -- identifies the content
    restores    BIGINT,          -- the earlier revision whose state it brings back
    body        TEXT   NOT NULL  -- the parts list, JSON
);
