-- The fifth step of kb/migrations.py: checks without lists, and their tables' indexes made again. It never changes.

DROP INDEX belt_code;
DROP INDEX belt_ribs_length;
DROP INDEX belt_width_outside;
DROP INDEX belt_width_effective;
DROP INDEX belt_load;
ALTER TABLE belt RENAME TO belt_before;
CREATE TABLE belt (
    id INTEGER PRIMARY KEY,
    supplier_id INTEGER NOT NULL REFERENCES supplier (id),
    part_no TEXT NOT NULL CHECK (part_no <> ''),
    code TEXT NOT NULL,
    description TEXT,
    maker TEXT,
    designation TEXT,
    profile TEXT,
    ribs INTEGER CHECK (ribs BETWEEN 1 AND 40),
    section TEXT,
    top_width_mm REAL CHECK (top_width_mm > 0),
    effective_length_mm REAL CHECK (effective_length_mm > 0),
    outside_length_mm REAL CHECK (outside_length_mm > 0),
    pitch_length_mm REAL CHECK (pitch_length_mm > 0),
    -- which of the lengths the sheet gave; the others were worked out from it
    length_given TEXT NOT NULL
        CHECK (length_given = 'effective' OR length_given = 'outside' OR length_given = 'pitch'),
    length_tolerance_mm REAL CHECK (length_tolerance_mm > 0),
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL,
    written TEXT NOT NULL CHECK (json_valid(written)),
    UNIQUE (supplier_id, part_no),
    CHECK (ribs IS NULL OR profile IS NOT NULL),
    CHECK (ribs IS NOT NULL OR section IS NOT NULL OR top_width_mm IS NOT NULL)
) STRICT;
INSERT INTO belt SELECT * FROM belt_before;
DROP TABLE belt_before;
CREATE INDEX belt_code ON belt (code);
CREATE INDEX belt_ribs_length ON belt (profile, ribs, effective_length_mm, supplier_id, part_no);
CREATE INDEX belt_width_outside ON belt (top_width_mm, outside_length_mm) WHERE top_width_mm IS NOT NULL;
CREATE INDEX belt_width_effective ON belt (top_width_mm, effective_length_mm) WHERE top_width_mm IS NOT NULL;
CREATE INDEX belt_load ON belt (load_number);

DROP INDEX fitting_code;
DROP INDEX fitting_end_a;
DROP INDEX fitting_end_b;
DROP INDEX fitting_load;
ALTER TABLE fitting RENAME TO fitting_before;
CREATE TABLE fitting (
    id INTEGER PRIMARY KEY,
    supplier_id INTEGER NOT NULL REFERENCES supplier (id),
    part_no TEXT NOT NULL CHECK (part_no <> ''),
    code TEXT NOT NULL,
    description TEXT,
    maker TEXT,
    angle_deg REAL CHECK (angle_deg BETWEEN 0 AND 180),
    end_a_form TEXT CHECK (end_a_form = 'male' OR end_a_form = 'female' OR end_a_form = 'hose' OR end_a_form = 'tube'),
    end_a_thread TEXT,
    end_a_standard TEXT,
    end_a_dash TEXT,
    end_a_seat_deg REAL CHECK (end_a_seat_deg BETWEEN 1 AND 90),
    end_a_hose_mm REAL CHECK (end_a_hose_mm > 0),
    end_b_form TEXT CHECK (end_b_form = 'male' OR end_b_form = 'female' OR end_b_form = 'hose' OR end_b_form = 'tube'),
    end_b_thread TEXT,
    end_b_standard TEXT,
    end_b_dash TEXT,
    end_b_seat_deg REAL CHECK (end_b_seat_deg BETWEEN 1 AND 90),
    end_b_hose_mm REAL CHECK (end_b_hose_mm > 0),
    material TEXT,
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL,
    written TEXT NOT NULL CHECK (json_valid(written)),
    UNIQUE (supplier_id, part_no)
) STRICT;
INSERT INTO fitting SELECT * FROM fitting_before;
DROP TABLE fitting_before;
CREATE INDEX fitting_code ON fitting (code);
CREATE INDEX fitting_end_a ON fitting (end_a_thread);
CREATE INDEX fitting_end_b ON fitting (end_b_thread);
CREATE INDEX fitting_load ON fitting (load_number);

ALTER TABLE private_price RENAME TO private_price_before;
CREATE TABLE private_price (
    kind TEXT NOT NULL CHECK (
        kind = 'belt' OR kind = 'pulley' OR kind = 'tensioner' OR kind = 'hose' OR kind = 'fitting' OR kind = 'clamp'
    ),
    part_id INTEGER NOT NULL,
    price TEXT NOT NULL,
    PRIMARY KEY (kind, part_id)
) STRICT, WITHOUT ROWID;
INSERT INTO private_price SELECT * FROM private_price_before;
DROP TABLE private_price_before;
