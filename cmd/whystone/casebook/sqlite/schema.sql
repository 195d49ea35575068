-- The casebook's tables. Events are never changed or taken out; triggers see to it that no statement does.
CREATE TABLE events (
  seq INTEGER PRIMARY KEY,
  number TEXT NOT NULL,
  version INTEGER NOT NULL,
  kind TEXT NOT NULL,
  text TEXT NOT NULL,
  hash TEXT NOT NULL,
  UNIQUE (number, version)
) STRICT;

CREATE TRIGGER events_stay BEFORE UPDATE ON events BEGIN SELECT RAISE(ABORT, 'an event can''t be changed'); END;
CREATE TRIGGER events_are_kept BEFORE DELETE ON events BEGIN SELECT RAISE(ABORT, 'an event can''t be taken out'); END;

-- What can be erased.
CREATE TABLE particulars (
  id TEXT PRIMARY KEY,
  number TEXT NOT NULL,
  salt BLOB NOT NULL,
  content BLOB NOT NULL
) STRICT;
CREATE INDEX particulars_of ON particulars (number);

-- Texts, chains and files of rulesets, each once, packed by zstd.
CREATE TABLE blobs (
  hash TEXT PRIMARY KEY,
  packed BLOB NOT NULL
) STRICT;
