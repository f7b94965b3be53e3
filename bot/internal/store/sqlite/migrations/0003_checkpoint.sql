-- A sum over what an entry holds, so that a damaged one is noticed; NULL in entries that are older than this column.
ALTER TABLE entry ADD COLUMN sum INTEGER;

-- The engine's state after all entries with at <= its own. Each slot holds one; see package live for which.
CREATE TABLE checkpoint (
  slot  INTEGER PRIMARY KEY,
  at    INTEGER NOT NULL,
  seq   INTEGER NOT NULL, -- the newest entry then
  print TEXT    NOT NULL, -- of the program and config that made it
  sum   INTEGER NOT NULL,
  state BLOB    NOT NULL
) STRICT;

-- Whatever changes the past, be it the program, an import or a tool, throws away the states that came after.
CREATE TRIGGER entry_past AFTER INSERT ON entry
BEGIN DELETE FROM checkpoint WHERE at > new.at; END;
CREATE TRIGGER entry_voided AFTER UPDATE OF voided ON entry
BEGIN DELETE FROM checkpoint WHERE at >= new.at; END;
