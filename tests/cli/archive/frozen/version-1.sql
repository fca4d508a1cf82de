-- An archive of the first form, as it was written on 2026-11-25: two designs, one of them in the bin.
PRAGMA application_id = 1347177808;
PRAGMA user_version = 1;
CREATE TABLE design_files (
    design INTEGER NOT NULL REFERENCES designs (number) ON DELETE CASCADE,
    name TEXT NOT NULL,
    role TEXT NOT NULL,
    sha256 TEXT NOT NULL REFERENCES files (sha256),
    place INTEGER NOT NULL,
    PRIMARY KEY (design, name)
) WITHOUT ROWID;
INSERT INTO "design_files" VALUES(1,'overlay.png','overlay','2146e897a22f4c5c48a011d9d1a6485269601feef0f06670d9fd6333b60b49d0',1);
INSERT INTO "design_files" VALUES(1,'plan.json','plan','a9fa849d047a275b44bc8c2a7c67dfbcd51794acb50db420d2aee929099a915a',0);
INSERT INTO "design_files" VALUES(2,'overlay.png','overlay','2146e897a22f4c5c48a011d9d1a6485269601feef0f06670d9fd6333b60b49d0',1);
INSERT INTO "design_files" VALUES(2,'plan.json','plan','4136f06b921722c077e2ebf0a649a2cd856395307ce988abc4558fc81544b993',0);
CREATE TABLE design_tags (
    design INTEGER NOT NULL REFERENCES designs (number) ON DELETE CASCADE,
    tag TEXT NOT NULL,
    folded TEXT NOT NULL,
    place INTEGER NOT NULL,
    PRIMARY KEY (design, folded)
) WITHOUT ROWID;
INSERT INTO "design_tags" VALUES(1,'Class','class',0);
CREATE TABLE designs (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    identity TEXT NOT NULL UNIQUE,
    title TEXT NOT NULL,
    title_folded TEXT NOT NULL,
    note TEXT NOT NULL DEFAULT '',
    kept TEXT NOT NULL,
    removed TEXT,
    lights INTEGER NOT NULL,
    card_width_mm REAL NOT NULL,
    card_height_mm REAL NOT NULL,
    card_size TEXT,
    cell TEXT,
    must_fix INTEGER NOT NULL,
    look_again INTEGER NOT NULL
);
INSERT INTO "designs" VALUES(1,'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa','Lighthouse','lighthouse','For the autumn class','2026-11-20T09:00:00Z',NULL,2,107.95,139.7,'quarter-letter','CR2032',0,0);
INSERT INTO "designs" VALUES(2,'bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb','Campfire','campfire','','2026-11-21T09:00:00Z','2026-11-22T09:00:00Z',1,107.95,139.7,'quarter-letter','CR2032',0,0);
CREATE TABLE files (
    sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    bytes INTEGER NOT NULL CHECK (bytes >= 0)
) WITHOUT ROWID;
INSERT INTO "files" VALUES('2146e897a22f4c5c48a011d9d1a6485269601feef0f06670d9fd6333b60b49d0',74);
INSERT INTO "files" VALUES('4136f06b921722c077e2ebf0a649a2cd856395307ce988abc4558fc81544b993',719);
INSERT INTO "files" VALUES('a9fa849d047a275b44bc8c2a7c67dfbcd51794acb50db420d2aee929099a915a',864);
CREATE TABLE migrations (number INTEGER PRIMARY KEY, name TEXT NOT NULL, done TEXT NOT NULL);
INSERT INTO "migrations" VALUES(1,'designs, tags and files','2026-11-25T10:00:00Z');
CREATE INDEX designs_by_date ON designs (kept, number);
CREATE INDEX designs_by_title ON designs (title_folded);
CREATE INDEX designs_by_lights ON designs (lights);
CREATE INDEX design_tags_by_tag ON design_tags (folded, design);
CREATE INDEX design_files_by_content ON design_files (sha256);
DELETE FROM "sqlite_sequence";
INSERT INTO sqlite_sequence VALUES('designs',7);
