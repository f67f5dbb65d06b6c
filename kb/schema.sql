-- The whole shelf. Lengths in millimetres, angles in degrees as people read them, pressures in kPa gauge as printed on
-- parts, times in UTC ISO 8601. Lists are JSON arrays. Tables named private_* never leave the shop: a published copy is
-- made without them.

-- Where every row came from ------------------------------------------------------------------------------------------

CREATE TABLE supplier (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (name <> ''),
    can_supply TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(can_supply)),
    lead_time_hours REAL CHECK (lead_time_hours >= 0),
    notes TEXT,
    load_number INTEGER REFERENCES load (number),
    row_number INTEGER,
    written TEXT CHECK (written IS NULL OR json_valid(written))
) STRICT;

-- One row per worksheet that was loaded. `number` is this file's own, `id` is made once and kept in every copy.
-- `merged_from` names the shelf that brought the load here; null where it was loaded into this file.
CREATE TABLE load (
    number INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL,
    sheet TEXT NOT NULL,
    supplier_id INTEGER REFERENCES supplier (id),
    digest TEXT NOT NULL,
    settings TEXT NOT NULL CHECK (json_valid(settings)),
    loaded_at TEXT NOT NULL,
    heading_row INTEGER,
    rows_read INTEGER NOT NULL DEFAULT 0 CHECK (rows_read >= 0),
    rows_stored INTEGER NOT NULL DEFAULT 0 CHECK (rows_stored >= 0),
    rows_updated INTEGER NOT NULL DEFAULT 0 CHECK (rows_updated >= 0),
    rows_unchanged INTEGER NOT NULL DEFAULT 0 CHECK (rows_unchanged >= 0),
    rows_refused INTEGER NOT NULL DEFAULT 0 CHECK (rows_refused >= 0),
    cells_read INTEGER NOT NULL DEFAULT 0 CHECK (cells_read >= 0),
    cells_stored INTEGER NOT NULL DEFAULT 0 CHECK (cells_stored >= 0),
    cells_ignored INTEGER NOT NULL DEFAULT 0 CHECK (cells_ignored >= 0),
    notes TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(notes)),
    merged_from TEXT
) STRICT;
CREATE INDEX load_digest ON load (digest);

-- What each column of a loaded sheet was taken for; `field` is null where it was ignored. `place` is the position of
-- the cell in the `written` array of the rows: null for private and ignored columns, whose text is not kept there.
CREATE TABLE load_column (
    load_number INTEGER NOT NULL REFERENCES load (number) ON DELETE CASCADE,
    position INTEGER NOT NULL CHECK (position >= 0),
    heading TEXT NOT NULL,
    field TEXT,
    unit TEXT,
    place INTEGER,
    likeness REAL CHECK (likeness BETWEEN 0 AND 100),
    how TEXT NOT NULL,
    PRIMARY KEY (load_number, position)
) STRICT, WITHOUT ROWID;

-- What a person said a supplier's heading means: asked once, remembered. An empty field means: leave this column out.
CREATE TABLE heading_choice (
    supplier_id INTEGER NOT NULL REFERENCES supplier (id),
    kind TEXT NOT NULL,
    heading TEXT NOT NULL,
    field TEXT NOT NULL,
    PRIMARY KEY (supplier_id, kind, heading)
) STRICT, WITHOUT ROWID;

-- A row or a cell that could not be stored, with its reason. The whole row as it stood is private: it can hold a price.
CREATE TABLE refusal (
    id INTEGER PRIMARY KEY,
    load_number INTEGER NOT NULL REFERENCES load (number) ON DELETE CASCADE,
    row_number INTEGER NOT NULL,
    whole_row INTEGER NOT NULL CHECK (whole_row IN (0, 1)),
    column_name TEXT,
    value TEXT,
    reason TEXT NOT NULL
) STRICT;
CREATE INDEX refusal_load ON refusal (load_number, row_number);

CREATE TABLE private_refused_row (
    load_number INTEGER NOT NULL REFERENCES load (number) ON DELETE CASCADE,
    row_number INTEGER NOT NULL,
    cells TEXT NOT NULL CHECK (json_valid(cells)),
    PRIMARY KEY (load_number, row_number)
) STRICT, WITHOUT ROWID;

-- Parts --------------------------------------------------------------------------------------------------------------
-- `code` is the part number as the search compares it; `written` holds the row's cells as they stood in the sheet.

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
    length_given TEXT NOT NULL CHECK (length_given IN ('effective', 'outside', 'pitch')),
    length_tolerance_mm REAL CHECK (length_tolerance_mm > 0),
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL,
    written TEXT NOT NULL CHECK (json_valid(written)),
    UNIQUE (supplier_id, part_no),
    CHECK (ribs IS NULL OR profile IS NOT NULL),
    CHECK (ribs IS NOT NULL OR section IS NOT NULL OR top_width_mm IS NOT NULL)
) STRICT;
CREATE INDEX belt_code ON belt (code);
-- the last two columns let the look for the same belt elsewhere be answered by the index alone
CREATE INDEX belt_ribs_length ON belt (profile, ribs, effective_length_mm, supplier_id, part_no);
CREATE INDEX belt_width_outside ON belt (top_width_mm, outside_length_mm) WHERE top_width_mm IS NOT NULL;
CREATE INDEX belt_width_effective ON belt (top_width_mm, effective_length_mm) WHERE top_width_mm IS NOT NULL;
CREATE INDEX belt_load ON belt (load_number);

CREATE TABLE pulley (
    id INTEGER PRIMARY KEY,
    supplier_id INTEGER NOT NULL REFERENCES supplier (id),
    part_no TEXT NOT NULL CHECK (part_no <> ''),
    code TEXT NOT NULL,
    description TEXT,
    maker TEXT,
    use TEXT,
    face TEXT CHECK (face IN ('grooved', 'flat')),
    profile TEXT,
    grooves INTEGER CHECK (grooves BETWEEN 1 AND 40),
    outside_diameter_mm REAL CHECK (outside_diameter_mm > 0),
    effective_diameter_mm REAL CHECK (effective_diameter_mm > 0),
    over_balls_mm REAL CHECK (over_balls_mm > 0),
    width_mm REAL CHECK (width_mm > 0),
    bore_mm REAL CHECK (bore_mm > 0),
    pilot_mm REAL CHECK (pilot_mm > 0),
    bolt_circle_mm REAL CHECK (bolt_circle_mm > 0),
    hole_count INTEGER CHECK (hole_count > 0),
    offset_mm REAL,
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL,
    written TEXT NOT NULL CHECK (json_valid(written)),
    UNIQUE (supplier_id, part_no)
) STRICT;
CREATE INDEX pulley_code ON pulley (code);
CREATE INDEX pulley_diameter ON pulley (outside_diameter_mm);
CREATE INDEX pulley_load ON pulley (load_number);

CREATE TABLE tensioner (
    id INTEGER PRIMARY KEY,
    supplier_id INTEGER NOT NULL REFERENCES supplier (id),
    part_no TEXT NOT NULL CHECK (part_no <> ''),
    code TEXT NOT NULL,
    description TEXT,
    maker TEXT,
    use TEXT,
    face TEXT CHECK (face IN ('grooved', 'flat')),
    grooves INTEGER CHECK (grooves BETWEEN 1 AND 40),
    outside_diameter_mm REAL CHECK (outside_diameter_mm > 0),
    width_mm REAL CHECK (width_mm > 0),
    arm_length_mm REAL CHECK (arm_length_mm > 0),
    travel_deg REAL CHECK (travel_deg > 0),
    torque_nm REAL CHECK (torque_nm > 0),
    rate_nm_per_deg REAL CHECK (rate_nm_per_deg > 0),
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL,
    written TEXT NOT NULL CHECK (json_valid(written)),
    UNIQUE (supplier_id, part_no)
) STRICT;
CREATE INDEX tensioner_code ON tensioner (code);
CREATE INDEX tensioner_diameter ON tensioner (outside_diameter_mm);
CREATE INDEX tensioner_load ON tensioner (load_number);

CREATE TABLE hose (
    id INTEGER PRIMARY KEY,
    supplier_id INTEGER NOT NULL REFERENCES supplier (id),
    part_no TEXT NOT NULL CHECK (part_no <> ''),
    code TEXT NOT NULL,
    description TEXT,
    maker TEXT,
    service TEXT,
    inside_diameter_mm REAL NOT NULL CHECK (inside_diameter_mm > 0),
    far_inside_diameter_mm REAL CHECK (far_inside_diameter_mm > 0),
    outside_diameter_mm REAL CHECK (outside_diameter_mm > 0),
    length_mm REAL CHECK (length_mm > 0),
    legs_mm TEXT CHECK (legs_mm IS NULL OR json_valid(legs_mm)),
    bends_deg TEXT CHECK (bends_deg IS NULL OR json_valid(bends_deg)),
    twists_deg TEXT CHECK (twists_deg IS NULL OR json_valid(twists_deg)),
    min_bend_radius_mm REAL CHECK (min_bend_radius_mm > 0),
    pressure_kpa REAL CHECK (pressure_kpa > 0),
    temperature_c REAL,
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL,
    written TEXT NOT NULL CHECK (json_valid(written)),
    UNIQUE (supplier_id, part_no)
) STRICT;
CREATE INDEX hose_code ON hose (code);
CREATE INDEX hose_inside_length ON hose (inside_diameter_mm, length_mm);
CREATE INDEX hose_load ON hose (load_number);

CREATE TABLE fitting (
    id INTEGER PRIMARY KEY,
    supplier_id INTEGER NOT NULL REFERENCES supplier (id),
    part_no TEXT NOT NULL CHECK (part_no <> ''),
    code TEXT NOT NULL,
    description TEXT,
    maker TEXT,
    angle_deg REAL CHECK (angle_deg BETWEEN 0 AND 180),
    end_a_form TEXT CHECK (end_a_form IN ('male', 'female', 'hose', 'tube')),
    end_a_thread TEXT,
    end_a_standard TEXT,
    end_a_dash TEXT,
    end_a_seat_deg REAL CHECK (end_a_seat_deg BETWEEN 1 AND 90),
    end_a_hose_mm REAL CHECK (end_a_hose_mm > 0),
    end_b_form TEXT CHECK (end_b_form IN ('male', 'female', 'hose', 'tube')),
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
CREATE INDEX fitting_code ON fitting (code);
CREATE INDEX fitting_end_a ON fitting (end_a_thread);
CREATE INDEX fitting_end_b ON fitting (end_b_thread);
CREATE INDEX fitting_load ON fitting (load_number);

CREATE TABLE clamp (
    id INTEGER PRIMARY KEY,
    supplier_id INTEGER NOT NULL REFERENCES supplier (id),
    part_no TEXT NOT NULL CHECK (part_no <> ''),
    code TEXT NOT NULL,
    description TEXT,
    maker TEXT,
    size_number TEXT,
    style TEXT,
    smallest_mm REAL CHECK (smallest_mm > 0),
    largest_mm REAL CHECK (largest_mm > 0),
    band_width_mm REAL CHECK (band_width_mm > 0),
    material TEXT,
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL,
    written TEXT NOT NULL CHECK (json_valid(written)),
    UNIQUE (supplier_id, part_no),
    CHECK (smallest_mm IS NULL OR largest_mm IS NULL OR smallest_mm <= largest_mm)
) STRICT;
CREATE INDEX clamp_code ON clamp (code);
CREATE INDEX clamp_range ON clamp (smallest_mm, largest_mm);
CREATE INDEX clamp_load ON clamp (load_number);

-- A price came with its part's row, and points at no load of its own.
CREATE TABLE private_price (
    kind TEXT NOT NULL CHECK (kind IN ('belt', 'pulley', 'tensioner', 'hose', 'fitting', 'clamp')),
    part_id INTEGER NOT NULL,
    price TEXT NOT NULL,
    PRIMARY KEY (kind, part_id)
) STRICT, WITHOUT ROWID;

-- Drives -------------------------------------------------------------------------------------------------------------

CREATE TABLE drive (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (name <> ''),
    profile TEXT,
    ribs INTEGER CHECK (ribs BETWEEN 1 AND 40),
    rotation TEXT CHECK (rotation IN ('clockwise', 'anticlockwise')),
    idle_rpm REAL CHECK (idle_rpm > 0),
    governed_rpm REAL CHECK (governed_rpm > 0),
    belt_over_rim_mm REAL,
    belt_thickness_mm REAL CHECK (belt_thickness_mm > 0),
    -- the sheet itself, as it was written: the drive commands and pages work from it
    sheet_text TEXT NOT NULL,
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL DEFAULT 1
) STRICT;

CREATE TABLE drive_pulley (
    drive_id INTEGER NOT NULL REFERENCES drive (id) ON DELETE CASCADE,
    position INTEGER NOT NULL CHECK (position >= 1),
    name TEXT NOT NULL,
    face TEXT NOT NULL CHECK (face IN ('grooved', 'flat')),
    driver INTEGER NOT NULL CHECK (driver IN (0, 1)),
    grooves INTEGER,
    outside_diameter_mm REAL CHECK (outside_diameter_mm > 0),
    effective_diameter_mm REAL CHECK (effective_diameter_mm > 0),
    over_balls_mm REAL CHECK (over_balls_mm > 0),
    x_mm REAL,
    y_mm REAL,
    has_arm INTEGER NOT NULL CHECK (has_arm IN (0, 1)),
    PRIMARY KEY (drive_id, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE drive_distance (
    drive_id INTEGER NOT NULL REFERENCES drive (id) ON DELETE CASCADE,
    position INTEGER NOT NULL CHECK (position >= 1),
    from_pulley TEXT NOT NULL,
    to_pulley TEXT NOT NULL,
    distance_mm REAL NOT NULL CHECK (distance_mm > 0),
    PRIMARY KEY (drive_id, position)
) STRICT, WITHOUT ROWID;

-- Lines --------------------------------------------------------------------------------------------------------------

CREATE TABLE line (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (name <> ''),
    machine TEXT,
    service TEXT,
    hose_inside_mm REAL CHECK (hose_inside_mm > 0),
    hose_outside_mm REAL CHECK (hose_outside_mm > 0),
    min_bend_radius_mm REAL CHECK (min_bend_radius_mm > 0),
    old_length_mm REAL CHECK (old_length_mm > 0),
    quantity INTEGER NOT NULL DEFAULT 1 CHECK (quantity > 0),
    -- the sheet itself, as it was written: the line commands and pages work from it
    sheet_text TEXT NOT NULL,
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL DEFAULT 1
) STRICT;
CREATE INDEX line_load ON line (load_number);

-- Jobs ---------------------------------------------------------------------------------------------------------------

CREATE TABLE job (
    number INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE CHECK (id <> ''),
    revision TEXT NOT NULL,
    title TEXT NOT NULL,
    opened_on TEXT CHECK (opened_on IS date(opened_on)),
    closed_on TEXT CHECK (closed_on IS date(closed_on)),
    bay TEXT,
    machine TEXT,
    engine TEXT,
    work TEXT NOT NULL,
    outcome TEXT CHECK (outcome IN ('worked', 'worked after a change', 'did not work')),
    notes TEXT,
    accessories TEXT CHECK (accessories IS NULL OR json_valid(accessories)),
    profile TEXT,
    ribs INTEGER CHECK (ribs BETWEEN 1 AND 40),
    belt_length_mm REAL CHECK (belt_length_mm > 0),
    drive TEXT,
    -- everything that was said of the job in words, for the search
    words TEXT NOT NULL,
    load_number INTEGER NOT NULL REFERENCES load (number),
    row_number INTEGER NOT NULL,
    written TEXT NOT NULL CHECK (json_valid(written))
) STRICT;
CREATE INDEX job_load ON job (load_number);
CREATE INDEX job_drive ON job (drive) WHERE drive IS NOT NULL;

CREATE TABLE job_part (
    job_number INTEGER NOT NULL REFERENCES job (number) ON DELETE CASCADE,
    position INTEGER NOT NULL CHECK (position >= 1),
    part_no TEXT NOT NULL CHECK (part_no <> ''),
    code TEXT NOT NULL,
    supplier TEXT,
    quantity REAL CHECK (quantity > 0),
    -- a donor machine, its build range, a parts list: the machine's own record does not cover a refit
    ordered_by TEXT,
    note TEXT,
    PRIMARY KEY (job_number, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX job_part_code ON job_part (code);

CREATE TABLE job_trouble (
    job_number INTEGER NOT NULL REFERENCES job (number) ON DELETE CASCADE,
    position INTEGER NOT NULL CHECK (position >= 1),
    trouble TEXT,
    remedy TEXT,
    hours_lost REAL CHECK (hours_lost >= 0),
    solved INTEGER CHECK (solved IN (0, 1)),
    PRIMARY KEY (job_number, position),
    CHECK (trouble IS NOT NULL OR remedy IS NOT NULL OR hours_lost IS NOT NULL)
) STRICT, WITHOUT ROWID;

CREATE TABLE job_measurement (
    job_number INTEGER NOT NULL REFERENCES job (number) ON DELETE CASCADE,
    position INTEGER NOT NULL CHECK (position >= 1),
    name TEXT NOT NULL,
    unit TEXT,
    as_found REAL,
    as_found_written TEXT,
    as_left REAL,
    as_left_written TEXT,
    PRIMARY KEY (job_number, position)
) STRICT, WITHOUT ROWID;

-- Every state a job has been in: nothing is overwritten without trace. `based_on` is the revision it was made from;
-- `settles` lists the other revisions that it replaces, where it settled a conflict. The sheet's row it came from
-- stands here too: any revision can become the job's state when shelves meet.
CREATE TABLE job_revision (
    id TEXT PRIMARY KEY,
    job_id TEXT NOT NULL,
    based_on TEXT,
    made_at TEXT NOT NULL,
    content TEXT NOT NULL CHECK (json_valid(content)),
    load_number INTEGER REFERENCES load (number),
    settles TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(settles)),
    row_number INTEGER NOT NULL DEFAULT 1,
    written TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(written))
) STRICT, WITHOUT ROWID;
CREATE INDEX job_revision_job ON job_revision (job_id, made_at);

-- The revisions of a job that two bays made from the same state, until someone settles which holds. The newest is shown.
CREATE TABLE job_conflict (
    job_number INTEGER NOT NULL REFERENCES job (number) ON DELETE CASCADE,
    revision TEXT NOT NULL REFERENCES job_revision (id),
    PRIMARY KEY (job_number, revision)
) STRICT, WITHOUT ROWID;

CREATE TABLE private_job (
    job_number INTEGER PRIMARY KEY REFERENCES job (number) ON DELETE CASCADE,
    customer TEXT,
    private_note TEXT
) STRICT;

-- The shop's own values in place of the package's reference rows -----------------------------------------------------

CREATE TABLE reference_override (
    table_name TEXT NOT NULL,
    row_key TEXT NOT NULL,
    column_name TEXT NOT NULL,
    value TEXT NOT NULL,
    reason TEXT NOT NULL,
    made_at TEXT NOT NULL,
    PRIMARY KEY (table_name, row_key, column_name)
) STRICT, WITHOUT ROWID;

-- Words to find rows by: part numbers and what describes a part, everything said of jobs; kb/searched.py names the same ------

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

-- Every distinct part number and word once, and the buckets that find them in spite of slips: in `entries`, sorted
-- little-endian 32-bit numbers, 8 bits of the key above the 24 of the term's number. 2 to the power of `bits` buckets.
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
