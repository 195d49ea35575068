-- The index. It can be made anew of the events. The newest cases have their terms beside them, each between line feeds; the
-- terms of those before are in lists.
CREATE TABLE entries (
  opened INTEGER PRIMARY KEY,
  number TEXT NOT NULL,
  year INTEGER NOT NULL,
  running INTEGER NOT NULL,
  day TEXT NOT NULL,
  summary TEXT NOT NULL,
  terms TEXT NOT NULL
) STRICT;

-- Stretches of the log: the days of their cases, and the last case that is in lists.
CREATE TABLE stretches (
  stretch INTEGER PRIMARY KEY,
  first TEXT NOT NULL,
  last TEXT NOT NULL,
  settled INTEGER NOT NULL
) STRICT;

-- The cases of a stretch that are under a term.
CREATE TABLE lists (
  term TEXT NOT NULL,
  stretch INTEGER NOT NULL,
  cases BLOB NOT NULL,
  PRIMARY KEY (term, stretch)
) STRICT, WITHOUT ROWID;
