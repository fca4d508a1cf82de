-- Words to search in: title, tags, note. The row's number is the design's.
CREATE VIRTUAL TABLE words USING fts5 (
    title, tags, note, tokenize = "unicode61 remove_diacritics 2", prefix = "2 3"
);
INSERT INTO words (rowid, title, tags, note)
SELECT
    number,
    title,
    coalesce((SELECT group_concat(tag, ' ') FROM design_tags WHERE design = number), ''),
    note
FROM designs;
