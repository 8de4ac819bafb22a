-- Facts: one row each, never changed, never removed. The order of keeping is seq, not the clock.
CREATE TABLE fact (
    seq     INTEGER PRIMARY KEY AUTOINCREMENT,
    id      TEXT NOT NULL UNIQUE,
    kind    TEXT NOT NULL,
    animal  TEXT NOT NULL REFERENCES fact (id),
    parent  TEXT REFERENCES fact (id),
    day     TEXT,
    sha256  TEXT,
    state   TEXT,
    body    TEXT NOT NULL,
    kept_by TEXT NOT NULL,
    kept_at TEXT NOT NULL,
    digest  TEXT NOT NULL
);
CREATE UNIQUE INDEX fact_by_photo ON fact (sha256) WHERE sha256 IS NOT NULL;
CREATE INDEX fact_by_animal ON fact (animal, kind, seq);
CREATE INDEX fact_by_parent ON fact (parent, kind, seq);
CREATE INDEX fact_by_kind ON fact (kind, state, day);

-- The whole evaluation of a reading, deflated.
CREATE TABLE evaluation (
    reading  TEXT NOT NULL PRIMARY KEY REFERENCES fact (id),
    deflated BLOB NOT NULL
);

CREATE TRIGGER fact_is_not_changed BEFORE UPDATE ON fact
BEGIN SELECT RAISE(ABORT, 'a fact is never changed'); END;
CREATE TRIGGER fact_is_not_removed BEFORE DELETE ON fact
BEGIN SELECT RAISE(ABORT, 'a fact is never removed'); END;
CREATE TRIGGER evaluation_is_not_changed BEFORE UPDATE ON evaluation
BEGIN SELECT RAISE(ABORT, 'an evaluation is never changed'); END;
CREATE TRIGGER evaluation_is_not_removed BEFORE DELETE ON evaluation
BEGIN SELECT RAISE(ABORT, 'an evaluation is never removed'); END;
