-- bookkeeping before the fields, so that a field can be added; versions, entries and tables of facts
CREATE TABLE entries (
    id TEXT PRIMARY KEY NOT NULL,
    "made_at" TEXT NOT NULL,
    "made_by" TEXT,
    "asked" TEXT NOT NULL
) STRICT;

CREATE TABLE build_facts (
    "build" TEXT PRIMARY KEY NOT NULL,
    "diff" TEXT NOT NULL,
    "runs" REAL NOT NULL CHECK ("runs" >= 0),
    "opened_on" TEXT CHECK ("opened_on" IS date("opened_on", '+0 days')),
    "opened_for" TEXT,
    "leak_place" TEXT,
    "viscosity_cst" REAL,
    "viscosity_from" TEXT,
    "oil_in_g" REAL,
    "weighed_as" TEXT,
    "weighings" INTEGER,
    "first_mass_g" REAL,
    "last_mass_g" REAL,
    "weighed_at_runs" REAL,
    "loss_g" REAL,
    "loss_uncertainty_g" REAL,
    "caution_g" REAL,
    "stop_g" REAL,
    "limit_from" TEXT CHECK ("limit_from" IS NULL OR "limit_from" = 'yours' OR "limit_from" = 'proposal'),
    "leak" TEXT CHECK ("leak" IS NULL OR "leak" = 'ok' OR "leak" = 'caution' OR "leak" = 'stop' OR "leak" = 'unclear'),
    "good_until_runs" REAL,
    "bad_from_runs" REAL,
    "weighings_apart" TEXT
) STRICT, WITHOUT ROWID;

CREATE TABLE run_diff_facts (
    "run_diff" TEXT PRIMARY KEY NOT NULL,
    "build" TEXT NOT NULL,
    "runs_before" REAL NOT NULL CHECK ("runs_before" >= 0),
    "runs_after" REAL NOT NULL CHECK ("runs_after" >= 0),
    "fill_state" TEXT NOT NULL CHECK ("fill_state" = 'full' OR "fill_state" = 'unknown' OR "fill_state" = 'doubtful' OR "fill_state" = 'lost oil'),
    "viscosity_at_diff_temperature_cst" REAL
) STRICT, WITHOUT ROWID;

CREATE TABLE diff_facts (
    "diff" TEXT PRIMARY KEY NOT NULL,
    "current_build" TEXT,
    "position" TEXT CHECK ("position" IS NULL OR "position" = 'front' OR "position" = 'centre' OR "position" = 'rear'),
    "word" TEXT NOT NULL CHECK ("word" = 'ready' OR "word" = 'look at it' OR "word" = 'weigh it' OR "word" = 'open it' OR "word" = 'apart'),
    "reasons" TEXT,
    "seal_uses" INTEGER,
    "limit_runs" REAL,
    "limit_loss_g" REAL,
    "limit_loss_share" REAL,
    "limit_seal_uses" REAL
) STRICT, WITHOUT ROWID;

CREATE INDEX build_facts_by_leak ON build_facts ("leak") WHERE "leak" IS NOT NULL;

CREATE TABLE writing (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    entry TEXT,
    bulk INTEGER,
    placing INTEGER
) STRICT;

CREATE TABLE replacing (
    table_name TEXT NOT NULL,
    place INTEGER NOT NULL,
    row_id TEXT NOT NULL,
    version TEXT NOT NULL,
    parents TEXT,
    content TEXT NOT NULL
) STRICT;

CREATE TABLE about (
    name TEXT PRIMARY KEY NOT NULL,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

INSERT INTO writing (one) VALUES (1);

INSERT INTO entries (id, made_at, asked)
SELECT lower(substr(millis, 1, 8) || '-' || substr(millis, 9) || '-7' || substr(hex(randomblob(2)), 1, 3) || '-8' || substr(hex(randomblob(2)), 1, 3) || '-' || hex(randomblob(6))), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), 'kept from before entries'
FROM (SELECT printf('%012x', CAST((julianday('now') - 2440587.5) * 86400000 AS INTEGER)) AS millis)
WHERE EXISTS (SELECT 1 FROM people)
    OR EXISTS (SELECT 1 FROM cars)
    OR EXISTS (SELECT 1 FROM venues)
    OR EXISTS (SELECT 1 FROM scales)
    OR EXISTS (SELECT 1 FROM seals)
    OR EXISTS (SELECT 1 FROM diffs)
    OR EXISTS (SELECT 1 FROM fluids)
    OR EXISTS (SELECT 1 FROM bottles)
    OR EXISTS (SELECT 1 FROM fluid_comparisons)
    OR EXISTS (SELECT 1 FROM ideas)
    OR EXISTS (SELECT 1 FROM builds)
    OR EXISTS (SELECT 1 FROM blend_parts)
    OR EXISTS (SELECT 1 FROM seal_fittings)
    OR EXISTS (SELECT 1 FROM build_parts)
    OR EXISTS (SELECT 1 FROM build_shims)
    OR EXISTS (SELECT 1 FROM weighings)
    OR EXISTS (SELECT 1 FROM openings)
    OR EXISTS (SELECT 1 FROM runs)
    OR EXISTS (SELECT 1 FROM run_diffs)
    OR EXISTS (SELECT 1 FROM limits)
    OR EXISTS (SELECT 1 FROM calculations)
    OR EXISTS (SELECT 1 FROM history);

CREATE TABLE history_new (
    id INTEGER PRIMARY KEY,
    table_name TEXT NOT NULL,
    row_id TEXT NOT NULL,
    version TEXT NOT NULL,
    parents TEXT,
    content TEXT,
    replaced_in TEXT,
    replaced_at TEXT
) STRICT;

INSERT INTO history_new (table_name, row_id, version, parents, content, replaced_in, replaced_at)
WITH numbered AS (
    SELECT *, content_hash || '-' || row_number() OVER (PARTITION BY table_name, row_id ORDER BY id) AS version
    FROM history
), chained AS (
    SELECT *, lag(version || iif(what = 'removed', '-removed', '')) OVER (PARTITION BY table_name, row_id ORDER BY id) AS before
    FROM numbered
)
SELECT table_name, row_id, version, iif(before IS NULL, NULL, json_array(before)),
       iif(json_valid(old), json_remove(old, '$.id'), old), (SELECT id FROM entries), replaced_at
FROM (
    SELECT id, 0 AS half, table_name, row_id, version, before, old, replaced_at FROM chained
    UNION ALL
    SELECT id, 1, table_name, row_id, version || '-removed', version, NULL, NULL FROM chained WHERE what = 'removed'
) ORDER BY id, half;

UPDATE history_new SET replaced_in = NULL WHERE content IS NULL;

DROP TABLE history;

ALTER TABLE history_new RENAME TO history;

CREATE INDEX history_by_table_name_row_id_id ON history (table_name, row_id, id);

CREATE INDEX history_of_removals ON history (table_name, row_id, id) WHERE content IS NULL;

CREATE TABLE people_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "name" TEXT NOT NULL,
    "note" TEXT
) STRICT;

INSERT INTO people_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'people' AND row_id = people.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'people' AND row_id = people.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "note" FROM people ORDER BY rowid;

DROP TABLE people;

ALTER TABLE people_new RENAME TO people;

CREATE INDEX people_by_note_file_note_line ON people ("note_file", "note_line");

CREATE TABLE cars_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "name" TEXT NOT NULL,
    "drive" TEXT CHECK ("drive" IS NULL OR "drive" = '2WD' OR "drive" = '4WD'),
    "note" TEXT
) STRICT;

INSERT INTO cars_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "drive", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'cars' AND row_id = cars.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'cars' AND row_id = cars.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "drive", "note" FROM cars ORDER BY rowid;

DROP TABLE cars;

ALTER TABLE cars_new RENAME TO cars;

CREATE INDEX cars_by_note_file_note_line ON cars ("note_file", "note_line");

CREATE TABLE venues_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "name" TEXT NOT NULL,
    "surface" TEXT CHECK ("surface" IS NULL OR "surface" = 'carpet' OR "surface" = 'asphalt' OR "surface" = 'concrete' OR "surface" = 'artificial turf' OR "surface" = 'clay' OR "surface" = 'dirt' OR "surface" = 'wood' OR "surface" = 'other'),
    "indoor" TEXT CHECK ("indoor" IS NULL OR "indoor" = 'yes' OR "indoor" = 'no'),
    "altitude_m" REAL CHECK ("altitude_m" >= -450 AND "altitude_m" <= 6000),
    "note" TEXT
) STRICT;

INSERT INTO venues_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "surface", "indoor", "altitude_m", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'venues' AND row_id = venues.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'venues' AND row_id = venues.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "surface", "indoor", "altitude_m", "note" FROM venues ORDER BY rowid;

DROP TABLE venues;

ALTER TABLE venues_new RENAME TO venues;

CREATE INDEX venues_by_note_file_note_line ON venues ("note_file", "note_line");

CREATE TABLE scales_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "name" TEXT NOT NULL,
    "step_g" REAL NOT NULL CHECK ("step_g" > 0),
    "repeatability_g" REAL CHECK ("repeatability_g" >= 0),
    "error_bound_g" REAL CHECK ("error_bound_g" >= 0),
    "checked_on" TEXT CHECK ("checked_on" IS date("checked_on", '+0 days')),
    "note" TEXT
) STRICT;

INSERT INTO scales_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "step_g", "repeatability_g", "error_bound_g", "checked_on", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'scales' AND row_id = scales.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'scales' AND row_id = scales.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "step_g", "repeatability_g", "error_bound_g", "checked_on", "note" FROM scales ORDER BY rowid;

DROP TABLE scales;

ALTER TABLE scales_new RENAME TO scales;

CREATE INDEX scales_by_note_file_note_line ON scales ("note_file", "note_line");

CREATE INDEX scales_impossible ON scales (id) WHERE ("step_g" <> 0 AND "step_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("repeatability_g" <> 0 AND "repeatability_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("error_bound_g" <> 0 AND "error_bound_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE seals_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "label" TEXT NOT NULL,
    "form" TEXT CHECK ("form" IS NULL OR "form" = 'O-ring' OR "form" = 'four-lobed ring' OR "form" = 'lip seal' OR "form" = 'paper' OR "form" = 'sealant'),
    "inside_diameter_mm" REAL CHECK ("inside_diameter_mm" > 0 AND "inside_diameter_mm" < 200),
    "section_mm" REAL CHECK ("section_mm" > 0 AND "section_mm" < 20),
    "outside_diameter_mm" REAL CHECK ("outside_diameter_mm" > 0 AND "outside_diameter_mm" < 240),
    "material" TEXT CHECK ("material" IS NULL OR "material" = 'NBR' OR "material" = 'HNBR' OR "material" = 'FKM' OR "material" = 'EPDM' OR "material" = 'VMQ' OR "material" = 'FVMQ' OR "material" = 'TPU' OR "material" = 'paper' OR "material" = 'other' OR "material" = 'unknown'),
    "hardness" INTEGER CHECK ("hardness" >= 10 AND "hardness" <= 100),
    "groove_depth_mm" REAL CHECK ("groove_depth_mm" > 0 AND "groove_depth_mm" < 20),
    "groove_width_mm" REAL CHECK ("groove_width_mm" > 0 AND "groove_width_mm" < 40),
    "note" TEXT
) STRICT;

INSERT INTO seals_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "form", "inside_diameter_mm", "section_mm", "outside_diameter_mm", "material", "hardness", "groove_depth_mm", "groove_width_mm", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'seals' AND row_id = seals.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'seals' AND row_id = seals.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "form", "inside_diameter_mm", "section_mm", "outside_diameter_mm", "material", "hardness", "groove_depth_mm", "groove_width_mm", "note" FROM seals ORDER BY rowid;

DROP TABLE seals;

ALTER TABLE seals_new RENAME TO seals;

CREATE INDEX seals_by_note_file_note_line ON seals ("note_file", "note_line");

CREATE TABLE diffs_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "label" TEXT NOT NULL,
    "usual_position" TEXT CHECK ("usual_position" IS NULL OR "usual_position" = 'front' OR "usual_position" = 'centre' OR "usual_position" = 'rear'),
    "housing_material" TEXT,
    "free_volume_cm3" REAL CHECK ("free_volume_cm3" > 0),
    "free_volume_from" TEXT,
    "screw_count" INTEGER CHECK ("screw_count" >= 2 AND "screw_count" <= 32),
    "screw_size" TEXT,
    "screw_hole" TEXT CHECK ("screw_hole" IS NULL OR "screw_hole" = 'blind' OR "screw_hole" = 'through'),
    "shaft_diameter_mm" REAL CHECK ("shaft_diameter_mm" > 0),
    "joint_seal" TEXT REFERENCES seals(id),
    "shaft_seal" TEXT REFERENCES seals(id),
    "usual_dry_mass_g" REAL CHECK ("usual_dry_mass_g" > 0),
    "usual_lid_mass_g" REAL CHECK ("usual_lid_mass_g" > 0),
    "note" TEXT
) STRICT;

INSERT INTO diffs_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "usual_position", "housing_material", "free_volume_cm3", "free_volume_from", "screw_count", "screw_size", "screw_hole", "shaft_diameter_mm", "joint_seal", "shaft_seal", "usual_dry_mass_g", "usual_lid_mass_g", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'diffs' AND row_id = diffs.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'diffs' AND row_id = diffs.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "usual_position", "housing_material", "free_volume_cm3", "free_volume_from", "screw_count", "screw_size", "screw_hole", "shaft_diameter_mm", "joint_seal", "shaft_seal", "usual_dry_mass_g", "usual_lid_mass_g", "note" FROM diffs ORDER BY rowid;

DROP TABLE diffs;

ALTER TABLE diffs_new RENAME TO diffs;

CREATE INDEX diffs_by_joint_seal ON diffs ("joint_seal") WHERE "joint_seal" IS NOT NULL;

CREATE INDEX diffs_by_shaft_seal ON diffs ("shaft_seal") WHERE "shaft_seal" IS NOT NULL;

CREATE INDEX diffs_by_note_file_note_line ON diffs ("note_file", "note_line");

CREATE INDEX diffs_impossible ON diffs (id) WHERE ("free_volume_cm3" <> 0 AND "free_volume_cm3" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("shaft_diameter_mm" <> 0 AND "shaft_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("usual_dry_mass_g" <> 0 AND "usual_dry_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("usual_lid_mass_g" <> 0 AND "usual_lid_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE fluids_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "label" TEXT NOT NULL,
    "medium" TEXT CHECK ("medium" IS NULL OR "medium" = 'oil' OR "medium" = 'grease' OR "medium" = 'putty'),
    "viscosity_cst" REAL CHECK ("viscosity_cst" > 0),
    "viscosity_source" TEXT,
    "density_g_cm3" REAL CHECK ("density_g_cm3" >= 0.5 AND "density_g_cm3" <= 2),
    "expansion_per_k" REAL CHECK ("expansion_per_k" > 0 AND "expansion_per_k" < 0.01),
    "note" TEXT
) STRICT;

INSERT INTO fluids_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "medium", "viscosity_cst", "viscosity_source", "density_g_cm3", "expansion_per_k", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'fluids' AND row_id = fluids.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'fluids' AND row_id = fluids.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "medium", "viscosity_cst", "viscosity_source", "density_g_cm3", "expansion_per_k", "note" FROM fluids ORDER BY rowid;

DROP TABLE fluids;

ALTER TABLE fluids_new RENAME TO fluids;

CREATE INDEX fluids_by_note_file_note_line ON fluids ("note_file", "note_line");

CREATE INDEX fluids_impossible ON fluids (id) WHERE ("viscosity_cst" <> 0 AND "viscosity_cst" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE bottles_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "fluid" TEXT NOT NULL REFERENCES fluids(id),
    "lot" TEXT,
    "opened_on" TEXT CHECK ("opened_on" IS date("opened_on", '+0 days')),
    "viscosity_cst" REAL CHECK ("viscosity_cst" > 0),
    "viscosity_uncertainty_cst" REAL CHECK ("viscosity_uncertainty_cst" >= 0),
    "measured_on" TEXT CHECK ("measured_on" IS date("measured_on", '+0 days')),
    "method" TEXT,
    "density_g_cm3" REAL CHECK ("density_g_cm3" >= 0.5 AND "density_g_cm3" <= 2),
    "empty" TEXT CHECK ("empty" IS NULL OR "empty" = 'yes' OR "empty" = 'no'),
    "note" TEXT
) STRICT;

INSERT INTO bottles_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "fluid", "lot", "opened_on", "viscosity_cst", "viscosity_uncertainty_cst", "measured_on", "method", "density_g_cm3", "empty", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'bottles' AND row_id = bottles.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'bottles' AND row_id = bottles.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "fluid", "lot", "opened_on", "viscosity_cst", "viscosity_uncertainty_cst", "measured_on", "method", "density_g_cm3", "empty", "note" FROM bottles ORDER BY rowid;

DROP TABLE bottles;

ALTER TABLE bottles_new RENAME TO bottles;

CREATE INDEX bottles_by_fluid ON bottles ("fluid");

CREATE INDEX bottles_by_opened_on ON bottles ("opened_on");

CREATE INDEX bottles_by_note_file_note_line ON bottles ("note_file", "note_line");

CREATE INDEX bottles_impossible ON bottles (id) WHERE ("viscosity_cst" <> 0 AND "viscosity_cst" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("viscosity_uncertainty_cst" <> 0 AND "viscosity_uncertainty_cst" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE fluid_comparisons_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "thicker" TEXT NOT NULL REFERENCES bottles(id),
    "thinner" TEXT NOT NULL REFERENCES bottles(id),
    "ratio" REAL CHECK ("ratio" >= 1),
    "temperature_c" REAL CHECK ("temperature_c" >= -50 AND "temperature_c" <= 150),
    "compared_on" TEXT CHECK ("compared_on" IS date("compared_on", '+0 days')),
    "note" TEXT
) STRICT;

INSERT INTO fluid_comparisons_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "thicker", "thinner", "ratio", "temperature_c", "compared_on", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'fluid_comparisons' AND row_id = fluid_comparisons.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'fluid_comparisons' AND row_id = fluid_comparisons.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "thicker", "thinner", "ratio", "temperature_c", "compared_on", "note" FROM fluid_comparisons ORDER BY rowid;

DROP TABLE fluid_comparisons;

ALTER TABLE fluid_comparisons_new RENAME TO fluid_comparisons;

CREATE INDEX fluid_comparisons_by_thicker ON fluid_comparisons ("thicker");

CREATE INDEX fluid_comparisons_by_thinner ON fluid_comparisons ("thinner");

CREATE INDEX fluid_comparisons_by_compared_on ON fluid_comparisons ("compared_on");

CREATE INDEX fluid_comparisons_by_note_file_note_line ON fluid_comparisons ("note_file", "note_line");

CREATE INDEX fluid_comparisons_impossible ON fluid_comparisons (id) WHERE ("ratio" <> 0 AND "ratio" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE ideas_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "text" TEXT NOT NULL,
    "venue" TEXT REFERENCES venues(id),
    "run" TEXT REFERENCES runs(id),
    "person" TEXT REFERENCES people(id),
    "noted_on" TEXT CHECK ("noted_on" IS date("noted_on", '+0 days')),
    "dropped" TEXT
) STRICT;

INSERT INTO ideas_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "text", "venue", "run", "person", "noted_on", "dropped") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'ideas' AND row_id = ideas.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'ideas' AND row_id = ideas.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "text", "venue", "run", "person", "noted_on", "dropped" FROM ideas ORDER BY rowid;

DROP TABLE ideas;

ALTER TABLE ideas_new RENAME TO ideas;

CREATE INDEX ideas_by_venue ON ideas ("venue") WHERE "venue" IS NOT NULL;

CREATE INDEX ideas_by_run ON ideas ("run") WHERE "run" IS NOT NULL;

CREATE INDEX ideas_by_noted_on ON ideas ("noted_on");

CREATE INDEX ideas_by_note_file_note_line ON ideas ("note_file", "note_line");

CREATE TABLE builds_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "label" TEXT NOT NULL,
    "diff" TEXT NOT NULL REFERENCES diffs(id),
    "built_on" TEXT NOT NULL CHECK ("built_on" IS date("built_on", '+0 days')),
    "kind" TEXT CHECK ("kind" IS NULL OR "kind" = 'new' OR "kind" = 'rebuild' OR "kind" = 'oil change' OR "kind" = 'top-up'),
    "builder" TEXT REFERENCES people(id),
    "like" TEXT REFERENCES builds(id),
    "tries" TEXT REFERENCES ideas(id),
    "fluid" TEXT REFERENCES fluids(id),
    "bottle" TEXT REFERENCES bottles(id),
    "viscosity_cst" REAL CHECK ("viscosity_cst" > 0),
    "viscosity_from" TEXT CHECK ("viscosity_from" IS NULL OR "viscosity_from" = 'note' OR "viscosity_from" = 'own measurement' OR "viscosity_from" = 'label''s source' OR "viscosity_from" = 'blend'),
    "dry_mass_g" REAL CHECK ("dry_mass_g" >= 0),
    "target_oil_mass_g" REAL CHECK ("target_oil_mass_g" > 0),
    "oil_mass_g" REAL CHECK ("oil_mass_g" >= 0),
    "filled_mass_g" REAL CHECK ("filled_mass_g" >= 0),
    "closed_mass_g" REAL CHECK ("closed_mass_g" >= 0),
    "mass_basis" TEXT CHECK ("mass_basis" IS NULL OR "mass_basis" = 'all parts on the pan' OR "mass_basis" = 'open half' OR "mass_basis" = 'closed'),
    "parts_on_pan" TEXT,
    "scale" TEXT REFERENCES scales(id),
    "squeeze_out" TEXT CHECK ("squeeze_out" IS NULL OR "squeeze_out" = 'none' OR "squeeze_out" = 'trace' OR "squeeze_out" = 'runs out'),
    "degassing" TEXT,
    "grease" TEXT,
    "gasket" TEXT,
    "screw_torque_nm" REAL CHECK ("screw_torque_nm" > 0 AND "screw_torque_nm" < 10),
    "hand_feel" TEXT CHECK ("hand_feel" IS NULL OR "hand_feel" = 'smooth' OR "hand_feel" = 'gritty' OR "hand_feel" = 'notchy' OR "hand_feel" = 'tight spot' OR "hand_feel" = 'stiff all round' OR "hand_feel" = 'loose' OR "hand_feel" = 'slipping'),
    "against_last" TEXT CHECK ("against_last" IS NULL OR "against_last" = 'thinner' OR "against_last" = 'same' OR "against_last" = 'thicker'),
    "note" TEXT
) STRICT;

INSERT INTO builds_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "diff", "built_on", "kind", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "screw_torque_nm", "hand_feel", "against_last", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'builds' AND row_id = builds.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'builds' AND row_id = builds.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "diff", "built_on", "kind", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "screw_torque_nm", "hand_feel", "against_last", "note" FROM builds ORDER BY rowid;

DROP TABLE builds;

ALTER TABLE builds_new RENAME TO builds;

CREATE INDEX builds_by_diff_built_on_created_at_note_line_id ON builds ("diff", "built_on", "created_at", "note_line", "id");

CREATE INDEX builds_by_like ON builds ("like") WHERE "like" IS NOT NULL;

CREATE INDEX builds_by_tries ON builds ("tries") WHERE "tries" IS NOT NULL;

CREATE INDEX builds_by_fluid_built_on ON builds ("fluid", "built_on") WHERE "fluid" IS NOT NULL;

CREATE INDEX builds_by_bottle ON builds ("bottle") WHERE "bottle" IS NOT NULL;

CREATE INDEX builds_by_scale ON builds ("scale") WHERE "scale" IS NOT NULL;

CREATE INDEX builds_by_built_on ON builds ("built_on");

CREATE INDEX builds_by_note_file_note_line ON builds ("note_file", "note_line");

CREATE INDEX builds_impossible ON builds (id) WHERE ("viscosity_cst" <> 0 AND "viscosity_cst" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("dry_mass_g" <> 0 AND "dry_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("target_oil_mass_g" <> 0 AND "target_oil_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("oil_mass_g" <> 0 AND "oil_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("filled_mass_g" <> 0 AND "filled_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("closed_mass_g" <> 0 AND "closed_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);


CREATE TABLE blend_parts_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "fluid" TEXT REFERENCES fluids(id),
    "bottle" TEXT REFERENCES bottles(id),
    "viscosity_cst" REAL NOT NULL CHECK ("viscosity_cst" > 0),
    "mass_g" REAL NOT NULL CHECK ("mass_g" > 0)
) STRICT;

INSERT INTO blend_parts_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "fluid", "bottle", "viscosity_cst", "mass_g") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'blend_parts' AND row_id = blend_parts.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'blend_parts' AND row_id = blend_parts.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "fluid", "bottle", "viscosity_cst", "mass_g" FROM blend_parts ORDER BY rowid;

DROP TABLE blend_parts;

ALTER TABLE blend_parts_new RENAME TO blend_parts;

CREATE INDEX blend_parts_by_build ON blend_parts ("build");

CREATE INDEX blend_parts_by_fluid ON blend_parts ("fluid") WHERE "fluid" IS NOT NULL;

CREATE INDEX blend_parts_by_bottle ON blend_parts ("bottle") WHERE "bottle" IS NOT NULL;

CREATE INDEX blend_parts_by_note_file_note_line ON blend_parts ("note_file", "note_line");

CREATE INDEX blend_parts_impossible ON blend_parts (id) WHERE ("viscosity_cst" <> 0 AND "viscosity_cst" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("mass_g" <> 0 AND "mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE seal_fittings_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "place" TEXT NOT NULL CHECK ("place" = 'joint' OR "place" = 'case-side shaft' OR "place" = 'lid-side shaft'),
    "seal" TEXT REFERENCES seals(id),
    "condition" TEXT CHECK ("condition" IS NULL OR "condition" = 'new' OR "condition" = 'used'),
    "measured_outside_diameter_mm" REAL CHECK ("measured_outside_diameter_mm" > 0),
    "measured_inside_diameter_mm" REAL CHECK ("measured_inside_diameter_mm" > 0),
    "measured_section_mm" REAL CHECK ("measured_section_mm" > 0),
    "state" TEXT CHECK ("state" IS NULL OR "state" = 'ok' OR "state" = 'flattened' OR "state" = 'nicked' OR "state" = 'swollen' OR "state" = 'hard' OR "state" = 'missing'),
    "note" TEXT
) STRICT;

INSERT INTO seal_fittings_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "place", "seal", "condition", "measured_outside_diameter_mm", "measured_inside_diameter_mm", "measured_section_mm", "state", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'seal_fittings' AND row_id = seal_fittings.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'seal_fittings' AND row_id = seal_fittings.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "place", "seal", "condition", "measured_outside_diameter_mm", "measured_inside_diameter_mm", "measured_section_mm", "state", "note" FROM seal_fittings ORDER BY rowid;

DROP TABLE seal_fittings;

ALTER TABLE seal_fittings_new RENAME TO seal_fittings;

CREATE INDEX seal_fittings_by_build ON seal_fittings ("build");

CREATE INDEX seal_fittings_by_seal ON seal_fittings ("seal") WHERE "seal" IS NOT NULL;

CREATE INDEX seal_fittings_by_note_file_note_line ON seal_fittings ("note_file", "note_line");

CREATE INDEX seal_fittings_impossible ON seal_fittings (id) WHERE ("measured_outside_diameter_mm" <> 0 AND "measured_outside_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("measured_inside_diameter_mm" <> 0 AND "measured_inside_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("measured_section_mm" <> 0 AND "measured_section_mm" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE build_parts_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "part" TEXT NOT NULL CHECK ("part" = 'side gear' OR "part" = 'small gear' OR "part" = 'outdrive' OR "part" = 'cross pin' OR "part" = 'bearing' OR "part" = 'gasket' OR "part" = 'screw' OR "part" = 'other'),
    "place" TEXT CHECK ("place" IS NULL OR "place" = 'case side' OR "place" = 'lid side' OR "place" = 'both'),
    "condition" TEXT CHECK ("condition" IS NULL OR "condition" = 'new' OR "condition" = 'used' OR "condition" = 'turned over'),
    "mark" TEXT,
    "note" TEXT
) STRICT;

INSERT INTO build_parts_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "part", "place", "condition", "mark", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'build_parts' AND row_id = build_parts.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'build_parts' AND row_id = build_parts.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "part", "place", "condition", "mark", "note" FROM build_parts ORDER BY rowid;

DROP TABLE build_parts;

ALTER TABLE build_parts_new RENAME TO build_parts;

CREATE INDEX build_parts_by_build ON build_parts ("build");

CREATE INDEX build_parts_by_note_file_note_line ON build_parts ("note_file", "note_line");

CREATE TABLE build_shims_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "place" TEXT NOT NULL CHECK ("place" = 'behind case-side gear' OR "place" = 'behind lid-side gear' OR "place" = 'small gears'),
    "thickness_mm" REAL NOT NULL CHECK ("thickness_mm" >= -5 AND "thickness_mm" <= 5),
    "bore_mm" REAL CHECK ("bore_mm" > 0),
    "outside_diameter_mm" REAL CHECK ("outside_diameter_mm" > 0),
    "pieces" INTEGER CHECK ("pieces" >= 1 AND "pieces" <= 20),
    "note" TEXT
) STRICT;

INSERT INTO build_shims_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "place", "thickness_mm", "bore_mm", "outside_diameter_mm", "pieces", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'build_shims' AND row_id = build_shims.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'build_shims' AND row_id = build_shims.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "place", "thickness_mm", "bore_mm", "outside_diameter_mm", "pieces", "note" FROM build_shims ORDER BY rowid;

DROP TABLE build_shims;

ALTER TABLE build_shims_new RENAME TO build_shims;

CREATE INDEX build_shims_by_build ON build_shims ("build");

CREATE INDEX build_shims_by_note_file_note_line ON build_shims ("note_file", "note_line");

CREATE INDEX build_shims_impossible ON build_shims (id) WHERE ("bore_mm" <> 0 AND "bore_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("outside_diameter_mm" <> 0 AND "outside_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE weighings_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "weighed_on" TEXT CHECK ("weighed_on" IS date("weighed_on", '+0 days')),
    "mass_g" REAL NOT NULL CHECK ("mass_g" >= 0),
    "mass_basis" TEXT CHECK ("mass_basis" IS NULL OR "mass_basis" = 'all parts on the pan' OR "mass_basis" = 'open half' OR "mass_basis" = 'closed'),
    "parts_on_pan" TEXT,
    "scale" TEXT REFERENCES scales(id),
    "runs" REAL CHECK ("runs" >= 0),
    "person" TEXT REFERENCES people(id),
    "wiped" TEXT CHECK ("wiped" IS NULL OR "wiped" = 'yes' OR "wiped" = 'no'),
    "note" TEXT
) STRICT;

INSERT INTO weighings_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "weighed_on", "mass_g", "mass_basis", "parts_on_pan", "scale", "runs", "person", "wiped", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'weighings' AND row_id = weighings.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'weighings' AND row_id = weighings.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "weighed_on", "mass_g", "mass_basis", "parts_on_pan", "scale", "runs", "person", "wiped", "note" FROM weighings ORDER BY rowid;

DROP TABLE weighings;

ALTER TABLE weighings_new RENAME TO weighings;

CREATE INDEX weighings_by_build ON weighings ("build");

CREATE INDEX weighings_by_scale ON weighings ("scale") WHERE "scale" IS NOT NULL;

CREATE INDEX weighings_by_weighed_on ON weighings ("weighed_on");

CREATE INDEX weighings_by_note_file_note_line ON weighings ("note_file", "note_line");

CREATE INDEX weighings_impossible ON weighings (id) WHERE ("mass_g" <> 0 AND "mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("runs" <> 0 AND "runs" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE openings_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "opened_on" TEXT NOT NULL CHECK ("opened_on" IS date("opened_on", '+0 days')),
    "reason" TEXT CHECK ("reason" IS NULL OR "reason" = 'leak' OR "reason" = 'notchy' OR "reason" = 'oil change' OR "reason" = 'routine' OR "reason" = 'broke' OR "reason" = 'top-up'),
    "person" TEXT REFERENCES people(id),
    "closed_mass_g" REAL CHECK ("closed_mass_g" >= 0),
    "scale" TEXT REFERENCES scales(id),
    "leak_place" TEXT CHECK ("leak_place" IS NULL OR "leak_place" = 'joint' OR "leak_place" = 'case-side shaft' OR "leak_place" = 'lid-side shaft' OR "leak_place" = 'both shafts' OR "leak_place" = 'screw hole' OR "leak_place" = 'unknown'),
    "leak_amount" TEXT CHECK ("leak_amount" IS NULL OR "leak_amount" = 'dry' OR "leak_amount" = 'damp' OR "leak_amount" = 'drops' OR "leak_amount" = 'empty'),
    "oil" TEXT CHECK ("oil" IS NULL OR "oil" = 'clear' OR "oil" = 'grey' OR "oil" = 'black' OR "oil" = 'flakes'),
    "side_gears" TEXT CHECK ("side_gears" IS NULL OR "side_gears" = 'new' OR "side_gears" = 'ok' OR "side_gears" = 'polished' OR "side_gears" = 'worn' OR "side_gears" = 'pitted' OR "side_gears" = 'chipped' OR "side_gears" = 'teeth missing'),
    "small_gears" TEXT CHECK ("small_gears" IS NULL OR "small_gears" = 'new' OR "small_gears" = 'ok' OR "small_gears" = 'polished' OR "small_gears" = 'worn' OR "small_gears" = 'pitted' OR "small_gears" = 'chipped' OR "small_gears" = 'teeth missing'),
    "shafts" TEXT CHECK ("shafts" IS NULL OR "shafts" = 'ok' OR "shafts" = 'polished band' OR "shafts" = 'grooved' OR "shafts" = 'scratched'),
    "cross_pin" TEXT CHECK ("cross_pin" IS NULL OR "cross_pin" = 'ok' OR "cross_pin" = 'polished' OR "cross_pin" = 'worn' OR "cross_pin" = 'bent' OR "cross_pin" = 'broken'),
    "bores" TEXT CHECK ("bores" IS NULL OR "bores" = 'ok' OR "bores" = 'worn' OR "bores" = 'oval' OR "bores" = 'scratched'),
    "seals" TEXT CHECK ("seals" IS NULL OR "seals" = 'ok' OR "seals" = 'flattened' OR "seals" = 'nicked' OR "seals" = 'swollen' OR "seals" = 'hard' OR "seals" = 'missing'),
    "screws" TEXT CHECK ("screws" IS NULL OR "screws" = 'ok' OR "screws" = 'recess worn' OR "screws" = 'turns without rising' OR "screws" = 'stripped' OR "screws" = 'one stopped early'),
    "note" TEXT
) STRICT;

INSERT INTO openings_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "opened_on", "reason", "person", "closed_mass_g", "scale", "leak_place", "leak_amount", "oil", "side_gears", "small_gears", "shafts", "cross_pin", "bores", "seals", "screws", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'openings' AND row_id = openings.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'openings' AND row_id = openings.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "opened_on", "reason", "person", "closed_mass_g", "scale", "leak_place", "leak_amount", "oil", "side_gears", "small_gears", "shafts", "cross_pin", "bores", "seals", "screws", "note" FROM openings ORDER BY rowid;

DROP TABLE openings;

ALTER TABLE openings_new RENAME TO openings;

CREATE INDEX openings_by_build ON openings ("build");

CREATE INDEX openings_by_scale ON openings ("scale") WHERE "scale" IS NOT NULL;

CREATE INDEX openings_by_opened_on ON openings ("opened_on");

CREATE INDEX openings_by_note_file_note_line ON openings ("note_file", "note_line");

CREATE INDEX openings_impossible ON openings (id) WHERE ("closed_mass_g" <> 0 AND "closed_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE runs_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "label" TEXT NOT NULL,
    "run_on" TEXT NOT NULL CHECK ("run_on" IS date("run_on", '+0 days')),
    "started_at" TEXT,
    "day_order" INTEGER CHECK ("day_order" >= 1),
    "event" TEXT,
    "venue" TEXT REFERENCES venues(id),
    "car" TEXT REFERENCES cars(id),
    "driver" TEXT REFERENCES people(id),
    "noted_by" TEXT REFERENCES people(id),
    "surface_state" TEXT CHECK ("surface_state" IS NULL OR "surface_state" = 'dry' OR "surface_state" = 'dusty' OR "surface_state" = 'damp' OR "surface_state" = 'wet'),
    "grip" TEXT CHECK ("grip" IS NULL OR "grip" = 'low' OR "grip" = 'medium' OR "grip" = 'high'),
    "grip_trend" TEXT CHECK ("grip_trend" IS NULL OR "grip_trend" = 'rising' OR "grip_trend" = 'steady' OR "grip_trend" = 'falling'),
    "air_temp_c" REAL CHECK ("air_temp_c" >= -60 AND "air_temp_c" <= 70),
    "track_temp_c" REAL CHECK ("track_temp_c" >= -60 AND "track_temp_c" <= 100),
    "runs" REAL CHECK ("runs" >= 0),
    "laps" INTEGER CHECK ("laps" >= 0),
    "lap_times" TEXT,
    "best_lap_s" REAL CHECK ("best_lap_s" > 0),
    "best_five_s" REAL CHECK ("best_five_s" > 0),
    "tyres" TEXT,
    "tyre_runs" REAL CHECK ("tyre_runs" >= 0),
    "changed" TEXT,
    "balance_entry" INTEGER CHECK ("balance_entry" >= -2 AND "balance_entry" <= 2),
    "balance_middle" INTEGER CHECK ("balance_middle" >= -2 AND "balance_middle" <= 2),
    "balance_exit" INTEGER CHECK ("balance_exit" >= -2 AND "balance_exit" <= 2),
    "forward_drive" TEXT CHECK ("forward_drive" IS NULL OR "forward_drive" = 'low' OR "forward_drive" = 'ok' OR "forward_drive" = 'high'),
    "side_bite" TEXT CHECK ("side_bite" IS NULL OR "side_bite" = 'low' OR "side_bite" = 'ok' OR "side_bite" = 'high'),
    "happened" TEXT,
    "call" TEXT CHECK ("call" IS NULL OR "call" = 'keep' OR "call" = 'change' OR "call" = 'undecided' OR "call" = 'broke'),
    "note" TEXT
) STRICT;

INSERT INTO runs_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'runs' AND row_id = runs.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'runs' AND row_id = runs.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note" FROM runs ORDER BY rowid;

DROP TABLE runs;

ALTER TABLE runs_new RENAME TO runs;

CREATE INDEX runs_by_venue_run_on ON runs ("venue", "run_on") WHERE "venue" IS NOT NULL;

CREATE INDEX runs_by_car ON runs ("car") WHERE "car" IS NOT NULL;

CREATE INDEX runs_by_run_on ON runs ("run_on");

CREATE INDEX runs_by_note_file_note_line ON runs ("note_file", "note_line");

CREATE INDEX runs_impossible ON runs (id) WHERE ("runs" <> 0 AND "runs" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("best_lap_s" <> 0 AND "best_lap_s" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("best_five_s" <> 0 AND "best_five_s" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("tyre_runs" <> 0 AND "tyre_runs" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE run_diffs_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "run" TEXT NOT NULL REFERENCES runs(id),
    "build" TEXT NOT NULL REFERENCES builds(id),
    "position" TEXT CHECK ("position" IS NULL OR "position" = 'front' OR "position" = 'centre' OR "position" = 'rear'),
    "diff_temp_c" REAL CHECK ("diff_temp_c" >= -60 AND "diff_temp_c" <= 200),
    "temp_taken" TEXT
) STRICT;

INSERT INTO run_diffs_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "run", "build", "position", "diff_temp_c", "temp_taken") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'run_diffs' AND row_id = run_diffs.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'run_diffs' AND row_id = run_diffs.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "run", "build", "position", "diff_temp_c", "temp_taken" FROM run_diffs ORDER BY rowid;

DROP TABLE run_diffs;

ALTER TABLE run_diffs_new RENAME TO run_diffs;

CREATE INDEX run_diffs_by_run ON run_diffs ("run");

CREATE INDEX run_diffs_by_build ON run_diffs ("build");

CREATE INDEX run_diffs_by_note_file_note_line ON run_diffs ("note_file", "note_line");

CREATE TABLE limits_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "kind" TEXT NOT NULL CHECK ("kind" = 'runs between openings' OR "kind" = 'oil lost in grams' OR "kind" = 'oil lost as a share' OR "kind" = 'seal uses'),
    "value" REAL NOT NULL CHECK ("value" >= 0),
    "diff" TEXT REFERENCES diffs(id),
    "note" TEXT
) STRICT;

INSERT INTO limits_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "kind", "value", "diff", "note") SELECT rowid, "id", iif(note_file IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history WHERE table_name = 'limits' AND row_id = limits.id), id, (SELECT id FROM entries)), (SELECT json_array(version) FROM history WHERE table_name = 'limits' AND row_id = limits.id ORDER BY history.id DESC LIMIT 1), "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "kind", "value", "diff", "note" FROM limits ORDER BY rowid;

DROP TABLE limits;

ALTER TABLE limits_new RENAME TO limits;

CREATE INDEX limits_by_diff ON limits ("diff") WHERE "diff" IS NOT NULL;

CREATE INDEX limits_by_note_file_note_line ON limits ("note_file", "note_line");

CREATE INDEX limits_impossible ON limits (id) WHERE ("value" <> 0 AND "value" NOT BETWEEN 1e-12 AND 1000000000000.0);

INSERT INTO history (table_name, row_id, version, content, replaced_in, replaced_at)
SELECT 'calculations', id, id, json_object('calculator', calculator, 'version', version, 'subject_table', subject_table, 'subject_id', subject_id, 'given', given, 'found', found, 'rows', rows, 'uncertainties', uncertainties, 'origins', origins, 'verdict', verdict, 'reasons', reasons, 'package', package, 'package_version', package_version, 'calculated_at', calculated_at, 'calculated_by', calculated_by), (SELECT id FROM entries), strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
FROM calculations
WHERE NOT (json_valid(given) AND json_valid(found) AND (rows IS NULL OR json_valid(rows)) AND (uncertainties IS NULL OR json_valid(uncertainties)) AND json_valid(origins) AND json_valid(reasons))
ORDER BY rowid;

DELETE FROM calculations
WHERE NOT (json_valid(given) AND json_valid(found) AND (rows IS NULL OR json_valid(rows)) AND (uncertainties IS NULL OR json_valid(uncertainties)) AND json_valid(origins) AND json_valid(reasons));

CREATE TABLE calculations_new (
    id TEXT PRIMARY KEY NOT NULL,
    "calculator" TEXT NOT NULL,
    "version" INTEGER NOT NULL CHECK ("version" >= 1),
    "subject_table" TEXT,
    "subject_id" TEXT,
    "given" TEXT NOT NULL CHECK (json_valid("given")),
    "found" TEXT NOT NULL CHECK (json_valid("found")),
    "rows" TEXT CHECK ("rows" IS NULL OR json_valid("rows")),
    "uncertainties" TEXT CHECK ("uncertainties" IS NULL OR json_valid("uncertainties")),
    "origins" TEXT NOT NULL CHECK (json_valid("origins")),
    "verdict" TEXT NOT NULL CHECK ("verdict" = 'ok' OR "verdict" = 'caution' OR "verdict" = 'stop' OR "verdict" = 'unclear'),
    "reasons" TEXT NOT NULL CHECK (json_valid("reasons")),
    "package" TEXT NOT NULL,
    "package_version" TEXT NOT NULL,
    "calculated_at" TEXT NOT NULL,
    "calculated_by" TEXT
) STRICT;

INSERT INTO calculations_new (rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by") SELECT rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", CASE "verdict" WHEN 'not told' THEN 'unclear' ELSE "verdict" END, "reasons", "package", "package_version", "calculated_at", "calculated_by" FROM calculations ORDER BY rowid;

DROP TABLE calculations;

ALTER TABLE calculations_new RENAME TO calculations;

CREATE INDEX calculations_by_subject_table_subject_id ON calculations ("subject_table", "subject_id");

CREATE INDEX calculations_by_calculator_verdict ON calculations ("calculator", "verdict");

DROP TABLE venues_search;

CREATE VIRTUAL TABLE venues_search USING fts5("name", "note", content="venues", tokenize='unicode61 remove_diacritics 2');

INSERT INTO venues_search (rowid, "name", "note") SELECT rowid, "name", "note" FROM venues;

DROP TABLE diffs_search;

CREATE VIRTUAL TABLE diffs_search USING fts5("label", "note", content="diffs", tokenize='unicode61 remove_diacritics 2');

INSERT INTO diffs_search (rowid, "label", "note") SELECT rowid, "label", "note" FROM diffs;

DROP TABLE fluids_search;

CREATE VIRTUAL TABLE fluids_search USING fts5("label", "note", content="fluids", tokenize='unicode61 remove_diacritics 2');

INSERT INTO fluids_search (rowid, "label", "note") SELECT rowid, "label", "note" FROM fluids;

DROP TABLE bottles_search;

CREATE VIRTUAL TABLE bottles_search USING fts5("lot", "note", content="bottles", tokenize='unicode61 remove_diacritics 2');

INSERT INTO bottles_search (rowid, "lot", "note") SELECT rowid, "lot", "note" FROM bottles;

DROP TABLE ideas_search;

CREATE VIRTUAL TABLE ideas_search USING fts5("text", content="ideas", tokenize='unicode61 remove_diacritics 2');

INSERT INTO ideas_search (rowid, "text") SELECT rowid, "text" FROM ideas;

DROP TABLE builds_search;

CREATE VIRTUAL TABLE builds_search USING fts5("label", "note", content="builds", tokenize='unicode61 remove_diacritics 2');

INSERT INTO builds_search (rowid, "label", "note") SELECT rowid, "label", "note" FROM builds;

DROP TABLE weighings_search;

CREATE VIRTUAL TABLE weighings_search USING fts5("note", content="weighings", tokenize='unicode61 remove_diacritics 2');

INSERT INTO weighings_search (rowid, "note") SELECT rowid, "note" FROM weighings;

DROP TABLE openings_search;

CREATE VIRTUAL TABLE openings_search USING fts5("note", content="openings", tokenize='unicode61 remove_diacritics 2');

INSERT INTO openings_search (rowid, "note") SELECT rowid, "note" FROM openings;

DROP TABLE runs_search;

CREATE VIRTUAL TABLE runs_search USING fts5("event", "changed", "happened", "note", content="runs", tokenize='unicode61 remove_diacritics 2');

INSERT INTO runs_search (rowid, "event", "changed", "happened", "note") SELECT rowid, "event", "changed", "happened", "note" FROM runs;

UPDATE calculations SET
    given = replace(replace(replace(replace(replace(replace(given, ':"not told"', ':"unclear"'), '["not told"', '["unclear"'), ',"not told"', ',"unclear"'), ':"not told apart"', ':"cannot tell"'), '["not told apart"', '["cannot tell"'), ',"not told apart"', ',"cannot tell"'),
    found = replace(replace(replace(replace(replace(replace(found, ':"not told"', ':"unclear"'), '["not told"', '["unclear"'), ',"not told"', ',"unclear"'), ':"not told apart"', ':"cannot tell"'), '["not told apart"', '["cannot tell"'), ',"not told apart"', ',"cannot tell"'),
    rows = replace(replace(replace(replace(replace(replace(rows, ':"not told"', ':"unclear"'), '["not told"', '["unclear"'), ',"not told"', ',"unclear"'), ':"not told apart"', ':"cannot tell"'), '["not told apart"', '["cannot tell"'), ',"not told apart"', ',"cannot tell"'),
    reasons = replace(replace(replace(replace(replace(replace(reasons, ':"not told"', ':"unclear"'), '["not told"', '["unclear"'), ',"not told"', ',"unclear"'), ':"not told apart"', ':"cannot tell"'), '["not told apart"', '["cannot tell"'), ',"not told apart"', ',"cannot tell"')
WHERE given LIKE '%"not told%'
    OR found LIKE '%"not told%'
    OR rows LIKE '%"not told%'
    OR reasons LIKE '%"not told%';
