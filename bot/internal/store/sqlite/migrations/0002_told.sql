-- What people entered is looked up among what the scale says every few minutes. The condition is repeated in Recent.
CREATE INDEX entry_told ON entry (seq) WHERE origin <> 'scale';
