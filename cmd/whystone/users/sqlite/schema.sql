-- The users' tables, version 1. What stands in the audit is never changed or taken out; triggers see to it.
CREATE TABLE house (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  name TEXT NOT NULL
) STRICT;

CREATE TABLE users (
  name TEXT PRIMARY KEY,
  role TEXT NOT NULL,
  hash TEXT NOT NULL,
  once INTEGER NOT NULL,
  until INTEGER NOT NULL, -- moments are nanoseconds since 1970, 0 for none
  added INTEGER NOT NULL
) STRICT;

CREATE TABLE sessions (
  key TEXT PRIMARY KEY,
  user TEXT NOT NULL REFERENCES users (name) ON DELETE CASCADE,
  begun INTEGER NOT NULL,
  seen INTEGER NOT NULL
) STRICT;
CREATE INDEX sessions_of ON sessions (user);

CREATE TABLE audit (
  seq INTEGER PRIMARY KEY,
  at INTEGER NOT NULL,
  by TEXT NOT NULL,
  did TEXT NOT NULL,
  whom TEXT NOT NULL,
  more TEXT NOT NULL
) STRICT;
CREATE TRIGGER audit_stays BEFORE UPDATE ON audit BEGIN SELECT RAISE(ABORT, 'an entry can''t be changed'); END;
CREATE TRIGGER audit_is_kept BEFORE DELETE ON audit BEGIN SELECT RAISE(ABORT, 'an entry can''t be taken out'); END;
