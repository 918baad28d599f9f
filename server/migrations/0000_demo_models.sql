-- Whether the demo models are still to be recorded. It is the first step of a new store; a store
-- that was made before there was this step has had them.

CREATE TABLE demo_models (
    are_due INTEGER NOT NULL
);

INSERT INTO demo_models (are_due)
    SELECT NOT EXISTS (SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'models');
