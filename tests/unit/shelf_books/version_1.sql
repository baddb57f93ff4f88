-- A book as version 1 of the program wrote it; the bars are invented.
BEGIN TRANSACTION;
CREATE TABLE bar (
    number INTEGER PRIMARY KEY REFERENCES given (number),
    tube TEXT NOT NULL CHECK (tube <> ''),
    length_pm INTEGER NOT NULL CHECK (length_pm > 0),
    ready_ends TEXT NOT NULL,
    price_cents INTEGER CHECK (price_cents >= 0),
    cut_from INTEGER REFERENCES bar (number),
    operation INTEGER NOT NULL REFERENCES operation (number) DEFERRABLE INITIALLY DEFERRED
) STRICT;
INSERT INTO "bar" VALUES(1,'steel-8',2000000000000,'[]',1120,NULL,1);
INSERT INTO "bar" VALUES(2,'steel-8',2000000000000,'[]',1120,NULL,1);
INSERT INTO "bar" VALUES(3,'steel-8',2000000000000,'[]',1120,NULL,1);
INSERT INTO "bar" VALUES(4,'steel-8',455000000000,'[{"flare": "double", "nut": true}]',NULL,NULL,2);
INSERT INTO "bar" VALUES(5,'steel-7.94',800100000000,'[]',NULL,NULL,3);
CREATE TABLE given (
    number INTEGER PRIMARY KEY CHECK (number > 0),
    operation INTEGER NOT NULL REFERENCES operation (number) DEFERRABLE INITIALLY DEFERRED
) STRICT;
INSERT INTO "given" VALUES(1,1);
INSERT INTO "given" VALUES(2,1);
INSERT INTO "given" VALUES(3,1);
INSERT INTO "given" VALUES(4,2);
INSERT INTO "given" VALUES(5,3);
CREATE TABLE movement (
    number INTEGER PRIMARY KEY,
    operation INTEGER NOT NULL REFERENCES operation (number) DEFERRABLE INITIALLY DEFERRED,
    from_place TEXT NOT NULL REFERENCES place (name),
    from_bar INTEGER NOT NULL REFERENCES bar (number),
    to_place TEXT NOT NULL REFERENCES place (name),
    to_bar INTEGER NOT NULL REFERENCES bar (number),
    length_pm INTEGER NOT NULL CHECK (length_pm > 0)
) STRICT;
INSERT INTO "movement" VALUES(1,1,'bought',1,'shelf',1,2000000000000);
INSERT INTO "movement" VALUES(2,1,'bought',2,'shelf',2,2000000000000);
INSERT INTO "movement" VALUES(3,1,'bought',3,'shelf',3,2000000000000);
INSERT INTO "movement" VALUES(4,2,'bought',4,'shelf',4,455000000000);
INSERT INTO "movement" VALUES(5,3,'bought',5,'shelf',5,800100000000);
INSERT INTO "movement" VALUES(6,4,'shelf',2,'scrap',2,2000000000000);
INSERT INTO "movement" VALUES(7,5,'shelf',5,'scrap',5,800100000000);
INSERT INTO "movement" VALUES(8,6,'scrap',5,'shelf',5,800100000000);
CREATE TABLE operation (
    number INTEGER PRIMARY KEY,
    key TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL,
    at TEXT NOT NULL,
    said TEXT NOT NULL,
    undoes INTEGER UNIQUE REFERENCES operation (number)
) STRICT;
INSERT INTO "operation" VALUES(1,'three bars','add','2026-11-27T21:24:20+00:00','3 bars of steel-8, 2000 mm, came: bars 1 to 3',NULL);
INSERT INTO "operation" VALUES(2,'ready','add','2026-11-27T21:24:20+00:00','1 bar of steel-8, 455 mm, came: bar 4',NULL);
INSERT INTO "operation" VALUES(3,'inches','add','2026-11-27T21:24:20+00:00','1 bar of steel-7.94, 800.1 mm, came: bar 5',NULL);
INSERT INTO "operation" VALUES(4,'bent in the rack','scrap','2026-11-27T21:24:20+00:00','bar 2 went for scrap',NULL);
INSERT INTO "operation" VALUES(5,'by mistake','scrap','2026-11-27T21:24:20+00:00','bar 5 went for scrap',NULL);
INSERT INTO "operation" VALUES(6,'undo 5','undo','2026-11-27T21:24:20+00:00','undone: bar 5 went for scrap',5);
CREATE TABLE place (name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
INSERT INTO "place" VALUES('bought');
INSERT INTO "place" VALUES('scrap');
INSERT INTO "place" VALUES('shelf');
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
CREATE TRIGGER place_stays BEFORE UPDATE ON place BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never changed');
END;
CREATE TRIGGER place_is_not_lost BEFORE DELETE ON place BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never taken out');
END;
CREATE TRIGGER operation_stays BEFORE UPDATE ON operation BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never changed');
END;
CREATE TRIGGER operation_is_not_lost BEFORE DELETE ON operation BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never taken out');
END;
CREATE TRIGGER given_stays BEFORE UPDATE ON given BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never changed');
END;
CREATE TRIGGER given_is_not_lost BEFORE DELETE ON given BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never taken out');
END;
CREATE TRIGGER bar_stays BEFORE UPDATE ON bar BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never changed');
END;
CREATE TRIGGER bar_is_not_lost BEFORE DELETE ON bar BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never taken out');
END;
CREATE TRIGGER movement_stays BEFORE UPDATE ON movement BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never changed');
END;
CREATE TRIGGER movement_is_not_lost BEFORE DELETE ON movement BEGIN
    SELECT RAISE (ABORT, 'what stands in the book is never taken out');
END;
COMMIT;
PRAGMA application_id = 1416970853;
PRAGMA user_version = 1;
