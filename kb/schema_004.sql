-- The fourth step of kb/migrations.py: more of each kind's words are searched, and found in spite of slips. It never changes.

DROP TABLE belt_word;
DROP TABLE belt_fts;
DROP TABLE pulley_word;
DROP TABLE pulley_fts;
DROP TABLE tensioner_word;
DROP TABLE tensioner_fts;
DROP TABLE hose_word;
DROP TABLE hose_fts;
DROP TABLE fitting_word;
DROP TABLE fitting_fts;
DROP TABLE clamp_word;
DROP TABLE clamp_fts;
DROP TABLE job_word;
DROP TABLE job_fts;
CREATE VIRTUAL TABLE belt_fts USING fts5 (
    part_no, description, designation, section, maker, content="belt", content_rowid="id",
    tokenize="unicode61 remove_diacritics 2"
);
CREATE VIRTUAL TABLE pulley_fts USING fts5 (
    part_no, description, use, maker, content="pulley", content_rowid="id",
    tokenize="unicode61 remove_diacritics 2"
);
CREATE VIRTUAL TABLE tensioner_fts USING fts5 (
    part_no, description, use, maker, content="tensioner", content_rowid="id",
    tokenize="unicode61 remove_diacritics 2"
);
CREATE VIRTUAL TABLE hose_fts USING fts5 (
    part_no, description, service, maker, content="hose", content_rowid="id",
    tokenize="unicode61 remove_diacritics 2"
);
CREATE VIRTUAL TABLE fitting_fts USING fts5 (
    part_no, description, end_a_standard, end_b_standard, material, maker, content="fitting", content_rowid="id",
    tokenize="unicode61 remove_diacritics 2"
);
CREATE VIRTUAL TABLE clamp_fts USING fts5 (
    part_no, description, style, size_number, material, maker, content="clamp", content_rowid="id",
    tokenize="unicode61 remove_diacritics 2"
);
CREATE VIRTUAL TABLE job_fts USING fts5 (
    title, words, content="job", content_rowid="number",
    tokenize="unicode61 remove_diacritics 2"
);
CREATE TABLE search_code (
    number INTEGER PRIMARY KEY,
    code TEXT NOT NULL
) STRICT;
CREATE TABLE search_word (
    number INTEGER PRIMARY KEY,
    word TEXT NOT NULL UNIQUE,
    uses INTEGER NOT NULL,
    kinds INTEGER NOT NULL
) STRICT;
CREATE TABLE search_form (
    bucket INTEGER PRIMARY KEY,
    entries BLOB NOT NULL
) STRICT;
CREATE TABLE search_shape (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    bits INTEGER NOT NULL CHECK (bits BETWEEN 1 AND 32)
) STRICT;
