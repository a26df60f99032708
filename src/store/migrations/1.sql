-- People, and their sessions: the whole result as it was written, and what it is looked up by.
CREATE TABLE person (
  id INTEGER PRIMARY KEY,
  pseudonym TEXT NOT NULL UNIQUE
) STRICT;

-- A number is never given twice, so that a note in a chart keeps its meaning.
CREATE TABLE session (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  person INTEGER NOT NULL REFERENCES person (id) ON DELETE CASCADE,
  date TEXT NOT NULL CHECK (date = strftime('%Y-%m-%d', date)),
  exercise TEXT NOT NULL,
  side TEXT NOT NULL CHECK (side IN ('left', 'right')),
  sha256 TEXT NOT NULL UNIQUE,
  review TEXT NOT NULL
) STRICT;

CREATE INDEX session_by_course ON session (person, exercise, side, date);
