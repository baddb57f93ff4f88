"""The book's tables, and how a book of an earlier version is brought up to this one.

A version's script is never changed once a book may have been made by it; the next version gets a script of its own.
"""

from __future__ import annotations

APPLICATION = 0x54754265  # in the file's head: this is a shelf's book, not another program's database

FIRST = """
CREATE TABLE place (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
INSERT INTO place VALUES ('bought'), ('shelf'), ('scrap');

CREATE TABLE operation (
    number INTEGER PRIMARY KEY,
    key TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL,
    at TEXT NOT NULL,
    said TEXT NOT NULL,
    undoes INTEGER UNIQUE REFERENCES operation (number)
) STRICT;

CREATE TABLE given (
    number INTEGER PRIMARY KEY CHECK (number > 0),
    operation INTEGER NOT NULL REFERENCES operation (number) DEFERRABLE INITIALLY DEFERRED
) STRICT;

CREATE TABLE bar (
    number INTEGER PRIMARY KEY REFERENCES given (number),
    tube TEXT NOT NULL CHECK (tube <> ''),
    length_pm INTEGER NOT NULL CHECK (length_pm > 0),
    ready_ends TEXT NOT NULL,
    price_cents INTEGER CHECK (price_cents >= 0),
    cut_from INTEGER REFERENCES bar (number),
    operation INTEGER NOT NULL REFERENCES operation (number) DEFERRABLE INITIALLY DEFERRED
) STRICT;

CREATE TABLE movement (
    number INTEGER PRIMARY KEY,
    operation INTEGER NOT NULL REFERENCES operation (number) DEFERRABLE INITIALLY DEFERRED,
    from_place TEXT NOT NULL REFERENCES place (name),
    from_bar INTEGER NOT NULL REFERENCES bar (number),
    to_place TEXT NOT NULL REFERENCES place (name),
    to_bar INTEGER NOT NULL REFERENCES bar (number),
    length_pm INTEGER NOT NULL CHECK (length_pm > 0)
) STRICT;
CREATE INDEX movement_of ON movement (operation);
CREATE INDEX movement_from ON movement (from_bar);
CREATE INDEX movement_to ON movement (to_bar);

CREATE VIEW entry AS
    SELECT operation, from_place AS place, from_bar AS bar, -length_pm AS length_pm FROM movement
    UNION ALL
    SELECT operation, to_place, to_bar, length_pm FROM movement;

CREATE TRIGGER nothing_from_nothing AFTER INSERT ON movement WHEN NEW.from_place <> 'bought' BEGIN
    SELECT RAISE (ABORT, 'more is taken from a place than lies there')
    WHERE (SELECT sum(length_pm) FROM entry WHERE bar = NEW.from_bar AND place = NEW.from_place) < 0;
END;
"""

SECOND = """
INSERT INTO place VALUES ('kept'), ('cut');

CREATE TABLE keeping (
    operation INTEGER PRIMARY KEY REFERENCES operation (number) DEFERRABLE INITIALLY DEFERRED,
    stock_plan TEXT NOT NULL
) STRICT;

CREATE TABLE ended (
    keeping INTEGER NOT NULL REFERENCES keeping (operation),
    operation INTEGER NOT NULL REFERENCES operation (number) DEFERRABLE INITIALLY DEFERRED,
    PRIMARY KEY (keeping, operation)
) STRICT, WITHOUT ROWID;

ALTER TABLE movement ADD COLUMN keeping INTEGER REFERENCES keeping (operation) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE movement ADD COLUMN job TEXT;
ALTER TABLE movement ADD COLUMN vehicle INTEGER;
ALTER TABLE movement ADD COLUMN piece TEXT;

DROP TRIGGER nothing_from_nothing;
DROP VIEW entry;
CREATE VIEW entry AS
    SELECT operation, from_place AS place, iif(from_place = 'kept', keeping, NULL) AS keeping, from_bar AS bar,
        -length_pm AS length_pm FROM movement
    UNION ALL
    SELECT operation, to_place, iif(to_place = 'kept', keeping, NULL), to_bar, length_pm FROM movement;

CREATE TRIGGER nothing_from_nothing AFTER INSERT ON movement WHEN NEW.from_place <> 'bought' BEGIN
    SELECT RAISE (ABORT, 'more is taken from a place than lies there')
    WHERE (SELECT sum(length_pm) FROM entry WHERE bar = NEW.from_bar AND place = NEW.from_place
        AND keeping IS iif(NEW.from_place = 'kept', NEW.keeping, NULL)) < 0;
END;
CREATE TRIGGER kept_for_somebody BEFORE INSERT ON movement
WHEN 'kept' IN (NEW.from_place, NEW.to_place) AND NEW.keeping IS NULL BEGIN
    SELECT RAISE (ABORT, 'a bar is kept for nobody');
END;
"""

APPEND_ONLY = """
CREATE TRIGGER {table}_stays BEFORE UPDATE ON {table} BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never changed');
END;
CREATE TRIGGER {table}_is_not_lost BEFORE DELETE ON {table} BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never taken out');
END;
"""


def _never_edited(*tables: str) -> str:
    return "".join(APPEND_ONLY.format(table=table) for table in tables)


MIGRATIONS = (  # the first makes version 1 of an empty file, each later one the next version
    FIRST + _never_edited("place", "operation", "given", "bar", "movement"),
    SECOND + _never_edited("keeping", "ended"),
)
VERSION = len(MIGRATIONS)


def statements(script: str) -> list[str]:
    """A script's statements one by one, so that they can run within a transaction.

    >>> statements("CREATE TABLE a (b); CREATE TRIGGER c BEGIN SELECT 1; END;")
    ['CREATE TABLE a (b);', 'CREATE TRIGGER c BEGIN SELECT 1; END;']
    """
    from sqlite3 import complete_statement

    found, so_far = [], ""
    for part in script.split(";")[:-1]:
        so_far += f"{part};"
        if complete_statement(so_far):
            found.append(so_far.strip())
            so_far = ""
    return found
