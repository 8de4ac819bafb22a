-- What a search looks through: derived from the facts, in small letters. Apart from them and by their order, so that
-- a search reads these few bytes and nothing else.
CREATE TABLE words (
    seq  INTEGER PRIMARY KEY REFERENCES fact (seq),
    text TEXT NOT NULL
);

-- Rules of thumb that were changed: the last row of a name holds.
CREATE TABLE rule (
    seq     INTEGER PRIMARY KEY AUTOINCREMENT,
    name    TEXT NOT NULL,
    value   TEXT NOT NULL,
    why     TEXT NOT NULL,
    kept_by TEXT NOT NULL,
    kept_at TEXT NOT NULL,
    digest  TEXT NOT NULL
);
CREATE TRIGGER rule_is_not_changed BEFORE UPDATE ON rule
BEGIN SELECT RAISE(ABORT, 'a rule is never changed, a new one is added'); END;
CREATE TRIGGER rule_is_not_removed BEFORE DELETE ON rule
BEGIN SELECT RAISE(ABORT, 'a rule is never removed'); END;
