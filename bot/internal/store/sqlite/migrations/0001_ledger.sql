-- Times are milliseconds since 1970 in UTC.
CREATE TABLE entry (
  seq      INTEGER PRIMARY KEY AUTOINCREMENT,
  key      TEXT    NOT NULL UNIQUE,
  kind     TEXT    NOT NULL,
  cylinder TEXT    NOT NULL,
  at       INTEGER NOT NULL,
  received INTEGER NOT NULL,
  by_id    TEXT    NOT NULL,
  by_name  TEXT    NOT NULL,
  origin   TEXT    NOT NULL,
  gross_g  REAL    NOT NULL,
  temp_c   REAL,
  name     TEXT    NOT NULL,
  value    TEXT    NOT NULL,
  text     TEXT    NOT NULL,
  voided   INTEGER NOT NULL DEFAULT 0 CHECK (voided IN (0, 1))
) STRICT;
CREATE INDEX entry_at ON entry (at, seq);

-- An entry can be voided but never changed or removed.
CREATE TRIGGER entry_unchanged BEFORE UPDATE OF seq, key, kind, cylinder, at, received, by_id, by_name, origin,
  gross_g, temp_c, name, value, text ON entry
BEGIN SELECT RAISE(ABORT, 'an entry cannot be changed'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry cannot be removed'); END;

CREATE TABLE outgoing (
  id       INTEGER PRIMARY KEY AUTOINCREMENT,
  key      TEXT    NOT NULL UNIQUE,
  kind     TEXT    NOT NULL,
  grp      TEXT    NOT NULL,
  edits    TEXT    NOT NULL,
  urgent   INTEGER NOT NULL CHECK (urgent IN (0, 1)),
  created  INTEGER NOT NULL,
  due      INTEGER NOT NULL,
  next     INTEGER NOT NULL,
  attempts INTEGER NOT NULL,
  state    TEXT    NOT NULL CHECK (state IN ('waiting', 'posting', 'posted', 'failed', 'dropped')),
  unsure   INTEGER NOT NULL CHECK (unsure IN (0, 1)),
  refused  INTEGER NOT NULL,
  posted   TEXT    NOT NULL,
  err      TEXT    NOT NULL,
  payload  BLOB    NOT NULL
) STRICT;
CREATE INDEX outgoing_waiting ON outgoing (urgent DESC, due, id) WHERE state = 'waiting';
CREATE INDEX outgoing_group ON outgoing (grp, id) WHERE grp <> '';
CREATE INDEX outgoing_posting ON outgoing (id) WHERE state = 'posting';

CREATE TABLE fact (
  name  TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;
