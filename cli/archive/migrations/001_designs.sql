-- The first form: designs, their tags, their files. A file is kept once, whoever it belongs to.
CREATE TABLE files (
    sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    bytes INTEGER NOT NULL CHECK (bytes >= 0)
) WITHOUT ROWID;

-- AUTOINCREMENT: a number that a person wrote on a card is never given to another design.
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
CREATE INDEX designs_by_date ON designs (kept, number);
CREATE INDEX designs_by_title ON designs (title_folded);
CREATE INDEX designs_by_lights ON designs (lights);

CREATE TABLE design_tags (
    design INTEGER NOT NULL REFERENCES designs (number) ON DELETE CASCADE,
    tag TEXT NOT NULL,
    folded TEXT NOT NULL,
    place INTEGER NOT NULL,
    PRIMARY KEY (design, folded)
) WITHOUT ROWID;
CREATE INDEX design_tags_by_tag ON design_tags (folded, design);

CREATE TABLE design_files (
    design INTEGER NOT NULL REFERENCES designs (number) ON DELETE CASCADE,
    name TEXT NOT NULL,
    role TEXT NOT NULL,
    sha256 TEXT NOT NULL REFERENCES files (sha256),
    place INTEGER NOT NULL,
    PRIMARY KEY (design, name)
) WITHOUT ROWID;
CREATE INDEX design_files_by_content ON design_files (sha256);
