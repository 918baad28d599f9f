-- A revision that brings an earlier state back says which, so that undo and redo know where they
-- stand.

ALTER TABLE revisions ADD COLUMN restores BIGINT;
