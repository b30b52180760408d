-- A database of version 0.1.0 with rows of every kind, all of them invented.
PRAGMA application_id = 1651928171;
PRAGMA user_version = 2;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
CREATE TABLE people (
    id TEXT PRIMARY KEY NOT NULL,
    "name" TEXT NOT NULL,
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE cars (
    id TEXT PRIMARY KEY NOT NULL,
    "name" TEXT NOT NULL,
    "drive" TEXT CHECK ("drive" IS NULL OR "drive" = '2WD' OR "drive" = '4WD'),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE venues (
    id TEXT PRIMARY KEY NOT NULL,
    "name" TEXT NOT NULL,
    "surface" TEXT CHECK ("surface" IS NULL OR "surface" = 'carpet' OR "surface" = 'asphalt' OR "surface" = 'concrete' OR "surface" = 'artificial turf' OR "surface" = 'clay' OR "surface" = 'dirt' OR "surface" = 'wood' OR "surface" = 'other'),
    "indoor" TEXT CHECK ("indoor" IS NULL OR "indoor" = 'yes' OR "indoor" = 'no'),
    "altitude_m" REAL CHECK ("altitude_m" >= -450 AND "altitude_m" <= 6000),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE scales (
    id TEXT PRIMARY KEY NOT NULL,
    "name" TEXT NOT NULL,
    "step_g" REAL NOT NULL CHECK ("step_g" > 0),
    "repeatability_g" REAL CHECK ("repeatability_g" >= 0),
    "error_bound_g" REAL CHECK ("error_bound_g" >= 0),
    "checked_on" TEXT CHECK ("checked_on" IS date("checked_on", '+0 days')),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE seals (
    id TEXT PRIMARY KEY NOT NULL,
    "label" TEXT NOT NULL,
    "form" TEXT CHECK ("form" IS NULL OR "form" = 'O-ring' OR "form" = 'four-lobed ring' OR "form" = 'lip seal' OR "form" = 'paper' OR "form" = 'sealant'),
    "inside_diameter_mm" REAL CHECK ("inside_diameter_mm" > 0 AND "inside_diameter_mm" < 200),
    "section_mm" REAL CHECK ("section_mm" > 0 AND "section_mm" < 20),
    "outside_diameter_mm" REAL CHECK ("outside_diameter_mm" > 0 AND "outside_diameter_mm" < 240),
    "material" TEXT CHECK ("material" IS NULL OR "material" = 'NBR' OR "material" = 'HNBR' OR "material" = 'FKM' OR "material" = 'EPDM' OR "material" = 'VMQ' OR "material" = 'FVMQ' OR "material" = 'TPU' OR "material" = 'paper' OR "material" = 'other' OR "material" = 'unknown'),
    "hardness" INTEGER CHECK ("hardness" >= 10 AND "hardness" <= 100),
    "groove_depth_mm" REAL CHECK ("groove_depth_mm" > 0 AND "groove_depth_mm" < 20),
    "groove_width_mm" REAL CHECK ("groove_width_mm" > 0 AND "groove_width_mm" < 40),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE diffs (
    id TEXT PRIMARY KEY NOT NULL,
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
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE fluids (
    id TEXT PRIMARY KEY NOT NULL,
    "label" TEXT NOT NULL,
    "medium" TEXT CHECK ("medium" IS NULL OR "medium" = 'oil' OR "medium" = 'grease' OR "medium" = 'putty'),
    "viscosity_cst" REAL CHECK ("viscosity_cst" > 0),
    "viscosity_source" TEXT,
    "density_g_cm3" REAL CHECK ("density_g_cm3" >= 0.5 AND "density_g_cm3" <= 2),
    "expansion_per_k" REAL CHECK ("expansion_per_k" > 0 AND "expansion_per_k" < 0.01),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE bottles (
    id TEXT PRIMARY KEY NOT NULL,
    "fluid" TEXT NOT NULL REFERENCES fluids(id),
    "lot" TEXT,
    "opened_on" TEXT CHECK ("opened_on" IS date("opened_on", '+0 days')),
    "viscosity_cst" REAL CHECK ("viscosity_cst" > 0),
    "viscosity_uncertainty_cst" REAL CHECK ("viscosity_uncertainty_cst" >= 0),
    "measured_on" TEXT CHECK ("measured_on" IS date("measured_on", '+0 days')),
    "method" TEXT,
    "density_g_cm3" REAL CHECK ("density_g_cm3" >= 0.5 AND "density_g_cm3" <= 2),
    "empty" TEXT CHECK ("empty" IS NULL OR "empty" = 'yes' OR "empty" = 'no'),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE fluid_comparisons (
    id TEXT PRIMARY KEY NOT NULL,
    "thicker" TEXT NOT NULL REFERENCES bottles(id),
    "thinner" TEXT NOT NULL REFERENCES bottles(id),
    "ratio" REAL CHECK ("ratio" >= 1),
    "temperature_c" REAL CHECK ("temperature_c" >= -50 AND "temperature_c" <= 150),
    "compared_on" TEXT CHECK ("compared_on" IS date("compared_on", '+0 days')),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE ideas (
    id TEXT PRIMARY KEY NOT NULL,
    "text" TEXT NOT NULL,
    "venue" TEXT REFERENCES venues(id),
    "run" TEXT REFERENCES runs(id),
    "person" TEXT REFERENCES people(id),
    "noted_on" TEXT CHECK ("noted_on" IS date("noted_on", '+0 days')),
    "dropped" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE builds (
    id TEXT PRIMARY KEY NOT NULL,
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
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE blend_parts (
    id TEXT PRIMARY KEY NOT NULL,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "fluid" TEXT REFERENCES fluids(id),
    "bottle" TEXT REFERENCES bottles(id),
    "viscosity_cst" REAL NOT NULL CHECK ("viscosity_cst" > 0),
    "mass_g" REAL NOT NULL CHECK ("mass_g" > 0),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE seal_fittings (
    id TEXT PRIMARY KEY NOT NULL,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "place" TEXT NOT NULL CHECK ("place" = 'joint' OR "place" = 'case-side shaft' OR "place" = 'lid-side shaft'),
    "seal" TEXT REFERENCES seals(id),
    "condition" TEXT CHECK ("condition" IS NULL OR "condition" = 'new' OR "condition" = 'used'),
    "measured_outside_diameter_mm" REAL CHECK ("measured_outside_diameter_mm" > 0),
    "measured_inside_diameter_mm" REAL CHECK ("measured_inside_diameter_mm" > 0),
    "measured_section_mm" REAL CHECK ("measured_section_mm" > 0),
    "state" TEXT CHECK ("state" IS NULL OR "state" = 'ok' OR "state" = 'flattened' OR "state" = 'nicked' OR "state" = 'swollen' OR "state" = 'hard' OR "state" = 'missing'),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE build_parts (
    id TEXT PRIMARY KEY NOT NULL,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "part" TEXT NOT NULL CHECK ("part" = 'side gear' OR "part" = 'small gear' OR "part" = 'outdrive' OR "part" = 'cross pin' OR "part" = 'bearing' OR "part" = 'gasket' OR "part" = 'screw' OR "part" = 'other'),
    "place" TEXT CHECK ("place" IS NULL OR "place" = 'case side' OR "place" = 'lid side' OR "place" = 'both'),
    "condition" TEXT CHECK ("condition" IS NULL OR "condition" = 'new' OR "condition" = 'used' OR "condition" = 'turned over'),
    "mark" TEXT,
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE build_shims (
    id TEXT PRIMARY KEY NOT NULL,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "place" TEXT NOT NULL CHECK ("place" = 'behind case-side gear' OR "place" = 'behind lid-side gear' OR "place" = 'small gears'),
    "thickness_mm" REAL NOT NULL CHECK ("thickness_mm" >= -5 AND "thickness_mm" <= 5),
    "bore_mm" REAL CHECK ("bore_mm" > 0),
    "outside_diameter_mm" REAL CHECK ("outside_diameter_mm" > 0),
    "pieces" INTEGER CHECK ("pieces" >= 1 AND "pieces" <= 20),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE weighings (
    id TEXT PRIMARY KEY NOT NULL,
    "build" TEXT NOT NULL REFERENCES builds(id),
    "weighed_on" TEXT CHECK ("weighed_on" IS date("weighed_on", '+0 days')),
    "mass_g" REAL NOT NULL CHECK ("mass_g" >= 0),
    "mass_basis" TEXT CHECK ("mass_basis" IS NULL OR "mass_basis" = 'all parts on the pan' OR "mass_basis" = 'open half' OR "mass_basis" = 'closed'),
    "parts_on_pan" TEXT,
    "scale" TEXT REFERENCES scales(id),
    "runs" REAL CHECK ("runs" >= 0),
    "person" TEXT REFERENCES people(id),
    "wiped" TEXT CHECK ("wiped" IS NULL OR "wiped" = 'yes' OR "wiped" = 'no'),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE openings (
    id TEXT PRIMARY KEY NOT NULL,
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
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE runs (
    id TEXT PRIMARY KEY NOT NULL,
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
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE run_diffs (
    id TEXT PRIMARY KEY NOT NULL,
    "run" TEXT NOT NULL REFERENCES runs(id),
    "build" TEXT NOT NULL REFERENCES builds(id),
    "position" TEXT CHECK ("position" IS NULL OR "position" = 'front' OR "position" = 'centre' OR "position" = 'rear'),
    "diff_temp_c" REAL CHECK ("diff_temp_c" >= -60 AND "diff_temp_c" <= 200),
    "temp_taken" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE limits (
    id TEXT PRIMARY KEY NOT NULL,
    "kind" TEXT NOT NULL CHECK ("kind" = 'runs between openings' OR "kind" = 'oil lost in grams' OR "kind" = 'oil lost as a share' OR "kind" = 'seal uses'),
    "value" REAL NOT NULL CHECK ("value" >= 0),
    "diff" TEXT REFERENCES diffs(id),
    "note" TEXT,
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT
) STRICT;
CREATE TABLE note_files (
    id TEXT PRIMARY KEY NOT NULL,
    "name" TEXT NOT NULL,
    "sha256" TEXT NOT NULL,
    "byte_count" INTEGER NOT NULL CHECK ("byte_count" >= 0),
    "read_at" TEXT NOT NULL,
    "options" TEXT,
    "accepted" INTEGER NOT NULL CHECK ("accepted" >= 0),
    "rejected" INTEGER NOT NULL CHECK ("rejected" >= 0),
    "skipped" INTEGER NOT NULL CHECK ("skipped" >= 0)
) STRICT;
CREATE TABLE note_rejects (
    id TEXT PRIMARY KEY NOT NULL,
    "note_file" TEXT NOT NULL REFERENCES note_files(id),
    "line" INTEGER NOT NULL CHECK ("line" >= 1),
    "status" TEXT NOT NULL CHECK ("status" = 'rejected' OR "status" = 'skipped'),
    "reason" TEXT NOT NULL,
    "column_name" TEXT,
    "value" TEXT,
    "words" TEXT,
    "raw" TEXT NOT NULL
) STRICT;
CREATE TABLE note_extras (
    id TEXT PRIMARY KEY NOT NULL,
    "note_file" TEXT NOT NULL REFERENCES note_files(id),
    "line" INTEGER NOT NULL CHECK ("line" >= 1),
    "cells" TEXT NOT NULL
) STRICT;
CREATE TABLE calculations (
    id TEXT PRIMARY KEY NOT NULL,
    "calculator" TEXT NOT NULL,
    "version" INTEGER NOT NULL CHECK ("version" >= 1),
    "subject_table" TEXT,
    "subject_id" TEXT,
    "given" TEXT NOT NULL,
    "found" TEXT NOT NULL,
    "rows" TEXT,
    "uncertainties" TEXT,
    "origins" TEXT NOT NULL,
    "verdict" TEXT NOT NULL CHECK ("verdict" = 'ok' OR "verdict" = 'caution' OR "verdict" = 'stop' OR "verdict" = 'not told'),
    "reasons" TEXT NOT NULL,
    "package" TEXT NOT NULL,
    "package_version" TEXT NOT NULL,
    "calculated_at" TEXT NOT NULL,
    "calculated_by" TEXT
) STRICT;
CREATE TABLE clashes (
    id TEXT PRIMARY KEY NOT NULL,
    "table_name" TEXT NOT NULL,
    "row_id" TEXT NOT NULL,
    "here" TEXT NOT NULL,
    "brought" TEXT NOT NULL,
    "met_on" TEXT NOT NULL CHECK ("met_on" IS date("met_on", '+0 days')),
    "settled" TEXT CHECK ("settled" IS NULL OR "settled" = 'here' OR "settled" = 'brought')
) STRICT;
CREATE TABLE history (
    id INTEGER PRIMARY KEY,
    table_name TEXT NOT NULL,
    row_id TEXT NOT NULL,
    what TEXT NOT NULL CHECK (what IN ('changed', 'removed')),
    old TEXT NOT NULL,
    content_hash TEXT NOT NULL,
    replaced_at TEXT NOT NULL,
    replaced_by TEXT
) STRICT;
CREATE TABLE note_bytes (
    sha256 TEXT PRIMARY KEY NOT NULL,
    packed BLOB NOT NULL
) STRICT;
CREATE VIRTUAL TABLE venues_search USING fts5("name", "note", content='venues', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE diffs_search USING fts5("label", "note", content='diffs', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE fluids_search USING fts5("label", "note", content='fluids', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE bottles_search USING fts5("lot", "note", content='bottles', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE ideas_search USING fts5("text", content='ideas', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE builds_search USING fts5("label", "note", content='builds', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE weighings_search USING fts5("note", content='weighings', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE openings_search USING fts5("note", content='openings', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE runs_search USING fts5("event", "changed", "happened", "note", content='runs', tokenize='unicode61 remove_diacritics 2');
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE INDEX people_by_note_file_note_line ON people ("note_file", "note_line");
CREATE INDEX cars_by_note_file_note_line ON cars ("note_file", "note_line");
CREATE INDEX venues_by_note_file_note_line ON venues ("note_file", "note_line");
CREATE INDEX scales_by_note_file_note_line ON scales ("note_file", "note_line");
CREATE INDEX seals_by_note_file_note_line ON seals ("note_file", "note_line");
CREATE INDEX diffs_by_joint_seal ON diffs ("joint_seal") WHERE "joint_seal" IS NOT NULL;
CREATE INDEX diffs_by_shaft_seal ON diffs ("shaft_seal") WHERE "shaft_seal" IS NOT NULL;
CREATE INDEX diffs_by_note_file_note_line ON diffs ("note_file", "note_line");
CREATE INDEX fluids_by_note_file_note_line ON fluids ("note_file", "note_line");
CREATE INDEX bottles_by_fluid ON bottles ("fluid");
CREATE INDEX bottles_by_opened_on ON bottles ("opened_on");
CREATE INDEX bottles_by_note_file_note_line ON bottles ("note_file", "note_line");
CREATE INDEX fluid_comparisons_by_thicker ON fluid_comparisons ("thicker");
CREATE INDEX fluid_comparisons_by_thinner ON fluid_comparisons ("thinner");
CREATE INDEX fluid_comparisons_by_compared_on ON fluid_comparisons ("compared_on");
CREATE INDEX fluid_comparisons_by_note_file_note_line ON fluid_comparisons ("note_file", "note_line");
CREATE INDEX ideas_by_venue ON ideas ("venue") WHERE "venue" IS NOT NULL;
CREATE INDEX ideas_by_run ON ideas ("run") WHERE "run" IS NOT NULL;
CREATE INDEX ideas_by_person ON ideas ("person") WHERE "person" IS NOT NULL;
CREATE INDEX ideas_by_noted_on ON ideas ("noted_on");
CREATE INDEX ideas_by_note_file_note_line ON ideas ("note_file", "note_line");
CREATE INDEX builds_by_builder ON builds ("builder") WHERE "builder" IS NOT NULL;
CREATE INDEX builds_by_like ON builds ("like") WHERE "like" IS NOT NULL;
CREATE INDEX builds_by_tries ON builds ("tries") WHERE "tries" IS NOT NULL;
CREATE INDEX builds_by_fluid ON builds ("fluid") WHERE "fluid" IS NOT NULL;
CREATE INDEX builds_by_bottle ON builds ("bottle") WHERE "bottle" IS NOT NULL;
CREATE INDEX builds_by_scale ON builds ("scale") WHERE "scale" IS NOT NULL;
CREATE INDEX builds_by_built_on ON builds ("built_on");
CREATE INDEX builds_by_note_file_note_line ON builds ("note_file", "note_line");
CREATE INDEX blend_parts_by_build ON blend_parts ("build");
CREATE INDEX blend_parts_by_fluid ON blend_parts ("fluid") WHERE "fluid" IS NOT NULL;
CREATE INDEX blend_parts_by_bottle ON blend_parts ("bottle") WHERE "bottle" IS NOT NULL;
CREATE INDEX blend_parts_by_note_file_note_line ON blend_parts ("note_file", "note_line");
CREATE INDEX seal_fittings_by_build ON seal_fittings ("build");
CREATE INDEX seal_fittings_by_seal ON seal_fittings ("seal") WHERE "seal" IS NOT NULL;
CREATE INDEX seal_fittings_by_note_file_note_line ON seal_fittings ("note_file", "note_line");
CREATE INDEX build_parts_by_build ON build_parts ("build");
CREATE INDEX build_parts_by_note_file_note_line ON build_parts ("note_file", "note_line");
CREATE INDEX build_shims_by_build ON build_shims ("build");
CREATE INDEX build_shims_by_note_file_note_line ON build_shims ("note_file", "note_line");
CREATE INDEX weighings_by_build ON weighings ("build");
CREATE INDEX weighings_by_scale ON weighings ("scale") WHERE "scale" IS NOT NULL;
CREATE INDEX weighings_by_person ON weighings ("person") WHERE "person" IS NOT NULL;
CREATE INDEX weighings_by_weighed_on ON weighings ("weighed_on");
CREATE INDEX weighings_by_note_file_note_line ON weighings ("note_file", "note_line");
CREATE INDEX openings_by_build ON openings ("build");
CREATE INDEX openings_by_person ON openings ("person") WHERE "person" IS NOT NULL;
CREATE INDEX openings_by_scale ON openings ("scale") WHERE "scale" IS NOT NULL;
CREATE INDEX openings_by_opened_on ON openings ("opened_on");
CREATE INDEX openings_by_note_file_note_line ON openings ("note_file", "note_line");
CREATE INDEX runs_by_venue ON runs ("venue") WHERE "venue" IS NOT NULL;
CREATE INDEX runs_by_car ON runs ("car") WHERE "car" IS NOT NULL;
CREATE INDEX runs_by_driver ON runs ("driver") WHERE "driver" IS NOT NULL;
CREATE INDEX runs_by_noted_by ON runs ("noted_by") WHERE "noted_by" IS NOT NULL;
CREATE INDEX runs_by_run_on ON runs ("run_on");
CREATE INDEX runs_by_note_file_note_line ON runs ("note_file", "note_line");
CREATE INDEX run_diffs_by_run ON run_diffs ("run");
CREATE INDEX run_diffs_by_build ON run_diffs ("build");
CREATE INDEX run_diffs_by_note_file_note_line ON run_diffs ("note_file", "note_line");
CREATE INDEX limits_by_diff ON limits ("diff") WHERE "diff" IS NOT NULL;
CREATE INDEX limits_by_note_file_note_line ON limits ("note_file", "note_line");
CREATE INDEX note_rejects_by_note_file ON note_rejects ("note_file");
CREATE INDEX note_extras_by_note_file ON note_extras ("note_file");
CREATE INDEX calculations_by_subject_table_subject_id ON calculations ("subject_table", "subject_id");
CREATE INDEX builds_by_diff_built_on_note_line_created_at_id ON builds ("diff", "built_on", "note_line", "created_at", "id");
CREATE INDEX calculations_by_calculator_verdict ON calculations ("calculator", "verdict");
INSERT INTO _sqlite_migrations ("id", "migration_set", "name", "applied_at") VALUES (1, 'bevelbook', '0001', '2026-11-25 17:53:16.671522+00:00');
INSERT INTO _sqlite_migrations ("id", "migration_set", "name", "applied_at") VALUES (2, 'bevelbook', '0002', '2026-11-25 17:53:16.690481+00:00');
INSERT INTO people (rowid, "id", "name", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '00000000-0000-8a00-89f9-6f5dd908b824', 'ana', NULL, NULL, 'e100b2487ac0b132', 2, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO people (rowid, "id", "name", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '00000000-0000-8b4e-bd9f-76f3ac4a7cb3', 'bo', NULL, NULL, 'e100b2487ac0b132', 3, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO people (rowid, "id", "name", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (3, '00000000-0000-827b-a2ab-5e5b90437a48', 'cy', NULL, NULL, 'e100b2487ac0b132', 6, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO people (rowid, "id", "name", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (4, '01a213d7-26b6-74ac-98ef-ed603bc8c88c', 'dee', 'builds on Sundays', '{"name": "dee", "note": "builds on Sundays"}', NULL, NULL, '2026-11-25T17:53:16.982Z', '2026-11-25T17:53:16.982Z', 'ana');
INSERT INTO cars (rowid, "id", "name", "drive", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-26f5-7311-b66a-1581be060777', 'number 4', '4WD', NULL, '{"name": "number 4", "drive": "4WD"}', NULL, NULL, '2026-11-25T17:53:17.045Z', '2026-11-25T17:53:17.045Z', 'ana');
INSERT INTO venues (rowid, "id", "name", "surface", "indoor", "altitude_m", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '00000000-0000-8807-b80a-07f079f03de5', 'Tannery Hall', NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 2, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO venues (rowid, "id", "name", "surface", "indoor", "altitude_m", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '00000000-0000-8943-b122-673dfb47b339', 'Brickfield', NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 4, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO venues (rowid, "id", "name", "surface", "indoor", "altitude_m", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (3, '01a213d7-2726-778d-8473-7deb3b764217', 'North Quay', 'carpet', 'yes', 12.0, NULL, '{"name": "North Quay", "surface": "carpet", "indoor": "yes", "altitude_m": "12"}', NULL, NULL, '2026-11-25T17:53:17.094Z', '2026-11-25T17:53:18.703Z', 'ana');
INSERT INTO scales (rowid, "id", "name", "step_g", "repeatability_g", "error_bound_g", "checked_on", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-2766-70cf-bc58-f387f960d645', 'bench scale', 0.01, 0.02, NULL, '2024-01-01', NULL, '{"name": "bench scale", "step_g": "0.01", "repeatability_g": "0.02", "checked_on": "2024-01-01"}', NULL, NULL, '2026-11-25T17:53:17.158Z', '2026-11-25T17:53:17.158Z', 'ana');
INSERT INTO seals (rowid, "id", "label", "form", "inside_diameter_mm", "section_mm", "outside_diameter_mm", "material", "hardness", "groove_depth_mm", "groove_width_mm", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-27a6-729e-a6aa-4ab95a224b92', 'ring 5x1', 'O-ring', 5.0, 1.0, NULL, 'NBR', NULL, NULL, NULL, NULL, '{"label": "ring 5x1", "form": "O-ring", "inside_diameter_mm": "5", "section_mm": "1", "material": "NBR"}', NULL, NULL, '2026-11-25T17:53:17.222Z', '2026-11-25T17:53:17.222Z', 'ana');
INSERT INTO diffs (rowid, "id", "label", "usual_position", "housing_material", "free_volume_cm3", "free_volume_from", "screw_count", "screw_size", "screw_hole", "shaft_diameter_mm", "joint_seal", "shaft_seal", "usual_dry_mass_g", "usual_lid_mass_g", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '00000000-0000-89c9-b7d4-a45924b4b533', 'rear-a', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 2, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO diffs (rowid, "id", "label", "usual_position", "housing_material", "free_volume_cm3", "free_volume_from", "screw_count", "screw_size", "screw_hole", "shaft_diameter_mm", "joint_seal", "shaft_seal", "usual_dry_mass_g", "usual_lid_mass_g", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '00000000-0000-8165-9ee1-b9694d2197c6', 'front-a', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 6, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO diffs (rowid, "id", "label", "usual_position", "housing_material", "free_volume_cm3", "free_volume_from", "screw_count", "screw_size", "screw_hole", "shaft_diameter_mm", "joint_seal", "shaft_seal", "usual_dry_mass_g", "usual_lid_mass_g", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (3, '01a213d7-27dd-73af-ad39-cd50a857f01b', 'rear-b', 'rear', NULL, 1.7, NULL, 4, NULL, NULL, NULL, '01a213d7-27a6-729e-a6aa-4ab95a224b92', NULL, NULL, NULL, 'scratch beside the lid', '{"label": "rear-b", "usual_position": "rear", "screw_count": "4", "free_volume_cm3": "1.7", "joint_seal": "ring 5x1", "note": "scratch beside the lid"}', NULL, NULL, '2026-11-25T17:53:17.277Z', '2026-11-25T17:53:17.277Z', 'ana');
INSERT INTO fluids (rowid, "id", "label", "medium", "viscosity_cst", "viscosity_source", "density_g_cm3", "expansion_per_k", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '00000000-0000-82d2-8915-20ee04e6eec5', 'house 7k', 'oil', NULL, NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 2, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO fluids (rowid, "id", "label", "medium", "viscosity_cst", "viscosity_source", "density_g_cm3", "expansion_per_k", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '00000000-0000-8a56-b3a1-af29a72f0885', 'house 10k', 'oil', NULL, NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 4, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO fluids (rowid, "id", "label", "medium", "viscosity_cst", "viscosity_source", "density_g_cm3", "expansion_per_k", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (3, '00000000-0000-87e1-8017-4bf59cdea69e', 'house 5k', 'oil', NULL, NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 6, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO fluids (rowid, "id", "label", "medium", "viscosity_cst", "viscosity_source", "density_g_cm3", "expansion_per_k", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (4, '01a213d7-2809-721e-b3ab-69807267bf46', 'grey putty', 'putty', NULL, NULL, NULL, NULL, NULL, '{"label": "grey putty", "medium": "putty"}', NULL, NULL, '2026-11-25T17:53:17.321Z', '2026-11-25T17:53:17.321Z', 'ana');
INSERT INTO fluids (rowid, "id", "label", "medium", "viscosity_cst", "viscosity_source", "density_g_cm3", "expansion_per_k", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (5, '01a213d7-2836-77f1-a2da-63354df5994e', 'house 60k', 'oil', 60000.0, 'its bottle', 0.976, NULL, NULL, '{"label": "house 60k", "viscosity_cst": "60000", "viscosity_source": "its bottle", "density_g_cm3": "0.976"}', NULL, NULL, '2026-11-25T17:53:17.366Z', '2026-11-25T17:53:17.366Z', 'ana');
INSERT INTO bottles (rowid, "id", "fluid", "lot", "opened_on", "viscosity_cst", "viscosity_uncertainty_cst", "measured_on", "method", "density_g_cm3", "empty", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-285a-76af-bef0-fcde2b8fe61d', '01a213d7-2836-77f1-a2da-63354df5994e', 'winter 24', '2024-01-05', 61200.0, NULL, NULL, NULL, NULL, NULL, 'sticky cap', '{"fluid": "house 60k", "lot": "winter 24", "opened_on": "2024-01-05", "viscosity_cst": "61200", "note": "sticky cap"}', NULL, NULL, '2026-11-25T17:53:17.402Z', '2026-11-25T17:53:17.402Z', 'ana');
INSERT INTO bottles (rowid, "id", "fluid", "lot", "opened_on", "viscosity_cst", "viscosity_uncertainty_cst", "measured_on", "method", "density_g_cm3", "empty", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '01a213d7-2882-754b-b8c5-4526343ddefe', '00000000-0000-82d2-8915-20ee04e6eec5', 'spring 24', NULL, 7100.0, NULL, NULL, NULL, NULL, NULL, NULL, '{"fluid": "house 7k", "lot": "spring 24", "viscosity_cst": "7100"}', NULL, NULL, '2026-11-25T17:53:17.442Z', '2026-11-25T17:53:17.442Z', 'ana');
INSERT INTO fluid_comparisons (rowid, "id", "thicker", "thinner", "ratio", "temperature_c", "compared_on", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-28b2-7769-b54a-b3c7bcf94b2e', '01a213d7-285a-76af-bef0-fcde2b8fe61d', '01a213d7-2882-754b-b8c5-4526343ddefe', 8.6, 21.0, '2024-02-01', NULL, '{"thicker": "winter 24", "thinner": "spring 24", "ratio": "8.6", "temperature_c": "21", "compared_on": "2024-02-01"}', NULL, NULL, '2026-11-25T17:53:17.490Z', '2026-11-25T17:53:17.490Z', 'ana');
INSERT INTO ideas (rowid, "id", "text", "venue", "run", "person", "noted_on", "dropped", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '01a213d7-28da-74af-8d13-54be7d425554', 'thinner oil on the cold carpet', '01a213d7-2726-778d-8473-7deb3b764217', NULL, NULL, '2024-02-20', NULL, '{"text": "thinner oil on the cold carpet", "venue": "North Quay", "noted_on": "2024-02-20"}', NULL, NULL, '2026-11-25T17:53:17.530Z', '2026-11-25T17:53:17.530Z', 'ana');
INSERT INTO ideas (rowid, "id", "text", "venue", "run", "person", "noted_on", "dropped", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (5, '0190aaaa-0000-7000-8000-000000000001', 'shorter springs, tried again', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, '2026-11-25T17:53:19.502Z', '2026-11-25T17:53:19.502Z', 'bo');
INSERT INTO builds (rowid, "id", "label", "diff", "built_on", "kind", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "screw_torque_nm", "hand_feel", "against_last", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '018d6c43-d000-842b-8b6e-ba9f545f3adb', 'rear-a/1', '00000000-0000-89c9-b7d4-a45924b4b533', '2024-02-03', NULL, '00000000-0000-8a00-89f9-6f5dd908b824', NULL, NULL, '00000000-0000-82d2-8915-20ee04e6eec5', NULL, 7000.0, 'note', 9.52, NULL, 1.5, 11.02, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'notchy', NULL, NULL, '{"hand_feel": "notchy"}', 'e100b2487ac0b132', 2, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:18.814Z', 'ana');
INSERT INTO builds (rowid, "id", "label", "diff", "built_on", "kind", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "screw_torque_nm", "hand_feel", "against_last", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (5, '018d9576-b000-812c-8fb1-33df98622a4b', 'rear-a/2', '00000000-0000-89c9-b7d4-a45924b4b533', '2024-02-11', NULL, '00000000-0000-8b4e-bd9f-76f3ac4a7cb3', NULL, NULL, '00000000-0000-8a56-b3a1-af29a72f0885', NULL, 10000.0, 'note', 9.5, NULL, 1.48, 10.98, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 4, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO builds (rowid, "id", "label", "diff", "built_on", "kind", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "screw_torque_nm", "hand_feel", "against_last", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (8, '018d9576-b000-8dc8-8cf9-c478743cd83b', 'rear-a/3', '00000000-0000-89c9-b7d4-a45924b4b533', '2024-02-11', NULL, '00000000-0000-8b4e-bd9f-76f3ac4a7cb3', NULL, NULL, '00000000-0000-8a56-b3a1-af29a72f0885', NULL, 10000.0, 'note', 9.5, NULL, 1.48, 10.98, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 5, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO builds (rowid, "id", "label", "diff", "built_on", "kind", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "screw_torque_nm", "hand_feel", "against_last", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (11, '018dfc75-e000-836a-8a25-a4fced9c34db', 'front-a/1', '00000000-0000-8165-9ee1-b9694d2197c6', '2024-03-02', NULL, '00000000-0000-827b-a2ab-5e5b90437a48', NULL, NULL, '00000000-0000-87e1-8017-4bf59cdea69e', NULL, 5000.0, 'note', 8.11, NULL, 1.0, 9.11, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 6, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO builds (rowid, "id", "label", "diff", "built_on", "kind", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "screw_torque_nm", "hand_feel", "against_last", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (14, '01a213d7-2b1c-7305-929c-dbad2995d1d3', 'rear-b/1', '01a213d7-27dd-73af-ad39-cd50a857f01b', '2024-04-06', 'new', '01a213d7-26b6-74ac-98ef-ed603bc8c88c', NULL, NULL, NULL, '01a213d7-285a-76af-bef0-fcde2b8fe61d', NULL, NULL, 9.61, NULL, 1.50252472563, 11.11, 18.35, 'open half', NULL, '01a213d7-2766-70cf-bc58-f387f960d645', 'trace', NULL, NULL, NULL, NULL, 'smooth', NULL, 'first try with putty on the thread', '{"diff": "rear-b", "built_on": "2024-04-06", "kind": "new", "builder": "dee", "bottle": "winter 24", "dry_mass_g": "9.61g", "oil_mass_g": "0.053oz", "filled_mass_g": "11.11g", "closed_mass_g": "18.35g", "mass_basis": "open half", "scale": "bench scale", "hand_feel": "smooth", "squeeze_out": "trace", "note": "first try with putty on the thread"}', NULL, NULL, '2026-11-25T17:53:18.108Z', '2026-11-25T17:53:18.108Z', 'ana');
INSERT INTO builds (rowid, "id", "label", "diff", "built_on", "kind", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "screw_torque_nm", "hand_feel", "against_last", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (17, '01a213d7-2b48-775d-9e0b-a788fe05dea2', 'rear-b/2', '01a213d7-27dd-73af-ad39-cd50a857f01b', '2024-05-04', 'new', NULL, '01a213d7-2b1c-7305-929c-dbad2995d1d3', NULL, NULL, '01a213d7-285a-76af-bef0-fcde2b8fe61d', NULL, NULL, 9.49709024688, NULL, 1.51, NULL, 18.35, 'open half', NULL, '01a213d7-2766-70cf-bc58-f387f960d645', NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'dry mass typed in ounces', '{"diff": "rear-b", "built_on": "2024-05-04", "like": "rear-b/1", "dry_mass_g": "0.335oz", "oil_mass_g": "1.50g", "closed_mass_g": "18.35g", "scale": "bench scale", "kind": "carried over from rear-b/1", "bottle": "carried over from rear-b/1", "mass_basis": "carried over from rear-b/1", "note": "dry mass typed in ounces"}', NULL, NULL, '2026-11-25T17:53:18.152Z', '2026-11-25T17:53:19.502Z', 'bo');
INSERT INTO blend_parts (rowid, "id", "build", "fluid", "bottle", "viscosity_cst", "mass_g", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-2b7a-70d5-a533-162c5a506bc8', '01a213d7-2b48-775d-9e0b-a788fe05dea2', '01a213d7-2836-77f1-a2da-63354df5994e', NULL, 60000.0, 0.7, '{"build": "rear-b/2", "fluid": "house 60k", "viscosity_cst": "60000", "mass_g": "0.7"}', NULL, NULL, '2026-11-25T17:53:18.202Z', '2026-11-25T17:53:18.202Z', 'ana');
INSERT INTO blend_parts (rowid, "id", "build", "fluid", "bottle", "viscosity_cst", "mass_g", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '01a213d7-2ba4-771f-99fc-93f3a4dad4ab', '01a213d7-2b48-775d-9e0b-a788fe05dea2', '00000000-0000-82d2-8915-20ee04e6eec5', NULL, 7000.0, 0.8, '{"build": "rear-b/2", "fluid": "house 7k", "viscosity_cst": "7000", "mass_g": "0.8"}', NULL, NULL, '2026-11-25T17:53:18.244Z', '2026-11-25T17:53:18.244Z', 'ana');
INSERT INTO seal_fittings (rowid, "id", "build", "place", "seal", "condition", "measured_outside_diameter_mm", "measured_inside_diameter_mm", "measured_section_mm", "state", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-2bcf-71c1-a5d8-26d7852a79a1', '01a213d7-2b1c-7305-929c-dbad2995d1d3', 'joint', '01a213d7-27a6-729e-a6aa-4ab95a224b92', 'new', NULL, NULL, 1.01, 'ok', NULL, '{"build": "rear-b/1", "place": "joint", "seal": "ring 5x1", "condition": "new", "state": "ok", "measured_section_mm": "1.01"}', NULL, NULL, '2026-11-25T17:53:18.287Z', '2026-11-25T17:53:18.287Z', 'ana');
INSERT INTO build_parts (rowid, "id", "build", "part", "place", "condition", "mark", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-2bfa-77d2-88ba-5a93931f37fb', '01a213d7-2b1c-7305-929c-dbad2995d1d3', 'cross pin', NULL, 'used', 'two dots', 'blue', '{"build": "rear-b/1", "part": "cross pin", "condition": "used", "mark": "two dots", "note": "blue"}', NULL, NULL, '2026-11-25T17:53:18.330Z', '2026-11-25T17:53:18.330Z', 'ana');
INSERT INTO build_shims (rowid, "id", "build", "place", "thickness_mm", "bore_mm", "outside_diameter_mm", "pieces", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-2c22-7421-a172-bffd2bf6db6b', '01a213d7-2b1c-7305-929c-dbad2995d1d3', 'behind case-side gear', 0.1, NULL, NULL, 2, NULL, '{"build": "rear-b/1", "place": "behind case-side gear", "thickness_mm": "0.1", "pieces": "2"}', NULL, NULL, '2026-11-25T17:53:18.370Z', '2026-11-25T17:53:18.370Z', 'ana');
INSERT INTO weighings (rowid, "id", "build", "weighed_on", "mass_g", "mass_basis", "parts_on_pan", "scale", "runs", "person", "wiped", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '018d9050-5400-8352-8252-39015d24b00e', '018d6c43-d000-842b-8b6e-ba9f545f3adb', '2024-02-10', 10.97, NULL, NULL, NULL, NULL, '00000000-0000-8b4e-bd9f-76f3ac4a7cb3', NULL, NULL, NULL, 'e100b2487ac0b132', 3, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO weighings (rowid, "id", "build", "weighed_on", "mass_g", "mass_basis", "parts_on_pan", "scale", "runs", "person", "wiped", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '01a213d7-2c7a-7749-bf6e-395f97b2419f', '01a213d7-2b48-775d-9e0b-a788fe05dea2', '2024-05-05', 18.29, 'closed', NULL, '01a213d7-2766-70cf-bc58-f387f960d645', 6.0, NULL, NULL, 'wiped twice', '{"build": "rear-b/2", "weighed_on": "2024-05-05", "mass_g": "18.29", "mass_basis": "closed", "scale": "bench scale", "runs": "6", "note": "wiped twice"}', NULL, NULL, '2026-11-25T17:53:18.458Z', '2026-11-25T17:53:18.458Z', 'ana');
INSERT INTO openings (rowid, "id", "build", "opened_on", "reason", "person", "closed_mass_g", "scale", "leak_place", "leak_amount", "oil", "side_gears", "small_gears", "shafts", "cross_pin", "bores", "seals", "screws", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-2cb3-747a-87a9-62fa52a151b2', '01a213d7-2b1c-7305-929c-dbad2995d1d3', '2024-05-03', 'oil change', NULL, 18.34, NULL, 'joint', 'damp', 'grey', NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'thread clean', '{"build": "rear-b/1", "opened_on": "2024-05-03", "reason": "oil change", "closed_mass_g": "18.34", "leak_place": "joint", "leak_amount": "damp", "oil": "grey", "note": "thread clean"}', NULL, NULL, '2026-11-25T17:53:18.515Z', '2026-11-25T17:53:18.515Z', 'ana');
INSERT INTO runs (rowid, "id", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '018d6c43-d000-842b-8b6e-ba9f545f3adc', '2024-02-03/1', '2024-02-03', NULL, NULL, NULL, '00000000-0000-8807-b80a-07f079f03de5', NULL, NULL, '00000000-0000-8a00-89f9-6f5dd908b824', NULL, 'high', NULL, 19.0, 24.0, 2.0, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'keep', 'calm on entry', NULL, 'e100b2487ac0b132', 2, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO runs (rowid, "id", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (5, '018d9050-5400-8352-8252-39015d24b00c', '2024-02-10/1', '2024-02-10', NULL, NULL, NULL, '00000000-0000-8807-b80a-07f079f03de5', NULL, NULL, '00000000-0000-8b4e-bd9f-76f3ac4a7cb3', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'weeps at the joint', NULL, 'e100b2487ac0b132', 3, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO runs (rowid, "id", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (8, '018d9576-b000-812c-8fb1-33df98622a4c', '2024-02-11/1', '2024-02-11', NULL, NULL, NULL, '00000000-0000-8943-b122-673dfb47b339', NULL, NULL, '00000000-0000-8b4e-bd9f-76f3ac4a7cb3', NULL, 'low', NULL, 26.0, 31.0, 3.0, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'change', 'pushes in the middle', NULL, 'e100b2487ac0b132', 4, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO runs (rowid, "id", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (11, '018d9576-b000-8dc8-8cf9-c478743cd83c', '2024-02-11/2', '2024-02-11', NULL, NULL, NULL, '00000000-0000-8943-b122-673dfb47b339', NULL, NULL, '00000000-0000-8b4e-bd9f-76f3ac4a7cb3', NULL, 'low', NULL, 26.0, 31.0, 3.0, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'change', 'pushes in the middle', NULL, 'e100b2487ac0b132', 5, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO runs (rowid, "id", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (14, '018dfc75-e000-836a-8a25-a4fced9c34dc', '2024-03-02/1', '2024-03-02', NULL, NULL, NULL, '00000000-0000-8943-b122-673dfb47b339', NULL, NULL, '00000000-0000-827b-a2ab-5e5b90437a48', NULL, 'medium', NULL, 12.0, 18.0, 1.0, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'keep', NULL, NULL, 'e100b2487ac0b132', 6, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO runs (rowid, "id", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (17, '018e2082-6400-8983-8ac1-76a7bd6cd11c', '2024-03-09/1', '2024-03-09', NULL, NULL, NULL, '00000000-0000-8807-b80a-07f079f03de5', NULL, NULL, '00000000-0000-827b-a2ab-5e5b90437a48', NULL, 'medium', NULL, NULL, NULL, 4.0, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'e100b2487ac0b132', 8, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO runs (rowid, "id", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (20, '01a213d7-2c4b-759d-9054-6aaa53a3873b', '2024-05-05/1', '2024-05-05', NULL, NULL, 'club day', '01a213d7-2726-778d-8473-7deb3b764217', '01a213d7-26f5-7311-b66a-1581be060777', '00000000-0000-8a00-89f9-6f5dd908b824', NULL, NULL, 'high', NULL, 17.0, NULL, 3.0, NULL, NULL, 14.21, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'keep', 'even from lap one', '{"run_on": "2024-05-05", "venue": "North Quay", "car": "number 4", "driver": "ana", "grip": "high", "air_temp_c": "17", "runs": "3", "rear": "rear-b/2", "call": "keep", "note": "even from lap one", "event": "club day", "best_lap_s": "14.21"}', NULL, NULL, '2026-11-25T17:53:18.411Z', '2026-11-25T17:53:18.411Z', 'ana');
INSERT INTO run_diffs (rowid, "id", "run", "build", "position", "diff_temp_c", "temp_taken", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '018d6c43-d000-842b-8b6e-ba9f545f3add', '018d6c43-d000-842b-8b6e-ba9f545f3adc', '018d6c43-d000-842b-8b6e-ba9f545f3adb', 'rear', 31.0, NULL, NULL, 'e100b2487ac0b132', 2, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO run_diffs (rowid, "id", "run", "build", "position", "diff_temp_c", "temp_taken", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '018d9050-5400-8352-8252-39015d24b00d', '018d9050-5400-8352-8252-39015d24b00c', '018d6c43-d000-842b-8b6e-ba9f545f3adb', 'rear', NULL, NULL, NULL, 'e100b2487ac0b132', 3, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO run_diffs (rowid, "id", "run", "build", "position", "diff_temp_c", "temp_taken", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (3, '018d9576-b000-812c-8fb1-33df98622a4d', '018d9576-b000-812c-8fb1-33df98622a4c', '018d9576-b000-812c-8fb1-33df98622a4b', 'rear', 38.0, NULL, NULL, 'e100b2487ac0b132', 4, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO run_diffs (rowid, "id", "run", "build", "position", "diff_temp_c", "temp_taken", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (4, '018d9576-b000-8dc8-8cf9-c478743cd83d', '018d9576-b000-8dc8-8cf9-c478743cd83c', '018d9576-b000-8dc8-8cf9-c478743cd83b', 'rear', 38.0, NULL, NULL, 'e100b2487ac0b132', 5, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO run_diffs (rowid, "id", "run", "build", "position", "diff_temp_c", "temp_taken", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (5, '018dfc75-e000-836a-8a25-a4fced9c34dd', '018dfc75-e000-836a-8a25-a4fced9c34dc', '018dfc75-e000-836a-8a25-a4fced9c34db', 'front', NULL, NULL, NULL, 'e100b2487ac0b132', 6, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO run_diffs (rowid, "id", "run", "build", "position", "diff_temp_c", "temp_taken", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (6, '018e2082-6400-8983-8ac1-76a7bd6cd11d', '018e2082-6400-8983-8ac1-76a7bd6cd11c', '018dfc75-e000-836a-8a25-a4fced9c34db', 'front', NULL, NULL, NULL, 'e100b2487ac0b132', 8, '2026-11-25T17:53:16.802Z', '2026-11-25T17:53:16.802Z', 'ana');
INSERT INTO run_diffs (rowid, "id", "run", "build", "position", "diff_temp_c", "temp_taken", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (7, '01a213d7-2c4b-759d-9054-6aabf3832011', '01a213d7-2c4b-759d-9054-6aaa53a3873b', '01a213d7-2b48-775d-9e0b-a788fe05dea2', 'rear', NULL, NULL, NULL, NULL, NULL, '2026-11-25T17:53:18.411Z', '2026-11-25T17:53:18.411Z', 'ana');
INSERT INTO limits (rowid, "id", "kind", "value", "diff", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (1, '01a213d7-2ce6-77fa-92d6-d37d617d1140', 'oil lost in grams', 0.3, '01a213d7-27dd-73af-ad39-cd50a857f01b', NULL, '{"kind": "oil lost in grams", "value": "0.3", "diff": "rear-b"}', NULL, NULL, '2026-11-25T17:53:18.566Z', '2026-11-25T17:53:18.566Z', 'ana');
INSERT INTO limits (rowid, "id", "kind", "value", "diff", "note", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by") VALUES (2, '01a213d7-2d16-72ff-ad50-fc9aa9277204', 'runs between openings', 12.0, NULL, NULL, '{"kind": "runs between openings", "value": "12"}', NULL, NULL, '2026-11-25T17:53:18.614Z', '2026-11-25T17:53:18.614Z', 'ana');
INSERT INTO note_files (rowid, "id", "name", "sha256", "byte_count", "read_at", "options", "accepted", "rejected", "skipped") VALUES (1, 'e100b2487ac0b132', 'notes.csv', 'e100b2487ac0b1328185098966e1b823bfe13f002dc2e22221f589f4ed687aea', 780, '2026-11-25T17:53:16.802Z', NULL, 6, 1, 0);
INSERT INTO note_rejects (rowid, "id", "note_file", "line", "status", "reason", "column_name", "value", "words", "raw") VALUES (1, '00000000-0000-8b24-b3bb-f4f3da1dc736', 'e100b2487ac0b132', 7, 'rejected', 'number_unparseable', 'oil_mass_g', 'abc', 'not a number; wanted a number such as 1.5 g.', '["2024-03-03", "cy", "front-a", "8.11", "abc", "9.11", "5000", "house 5k", "", "", "", "", "", "", "", "", "", ""]');
INSERT INTO note_extras (rowid, "id", "note_file", "line", "cells") VALUES (1, '00000000-0000-8d99-bea7-f4d96c2492c4', 'e100b2487ac0b132', 2, '{"socks":"blue"}');
INSERT INTO note_extras (rowid, "id", "note_file", "line", "cells") VALUES (2, '00000000-0000-85d6-8141-da10e99b1839', 'e100b2487ac0b132', 6, '{"socks":"red"}');
INSERT INTO calculations (rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by") VALUES (1, '00000000-0000-8afe-947e-b33ecef30941', 'leak-trend', 2, 'builds', '018d6c43-d000-842b-8b6e-ba9f545f3adb', '{"weighings":[{"runs":0.0,"mass_g":11.02,"scale_step_g":null,"repeatability_g":null},{"runs":3.0,"mass_g":10.97,"scale_step_g":null,"repeatability_g":null}],"scale_step_g":0.01,"repeatability_g":0,"oil_mass_g":1.5,"caution_share":0.05,"stop_share":0.1}', '{"loss_g":0.05,"loss_low_g":0.0418350341907,"loss_high_g":0.0581649658093,"smallest_loss_seen_g":0.00800166649309,"loss_share":0.0333333333333,"changed_after_runs":null,"changed_before_runs":null,"loss_g_per_run":null,"loss_low_g_per_run":null,"loss_high_g_per_run":null,"runs_to_limit":null,"runs_to_limit_low":null,"runs_to_limit_high":null,"runs_left":null}', '[{"from_runs":0.0,"to_runs":3.0,"loss_g":0.05,"loss_g_per_run":0.0166666666667,"uncertainty_g_per_run":0.00272165526976,"detected":"yes"}]', NULL, '{"weighings":"the build''s masses on the basis weighed last, rear-a/1","scale_step_g":"default","repeatability_g":"default","oil_mass_g":"the build, build rear-a/1","caution_share":"default","stop_share":"default"}', 'ok', '["lost 0.05 g of 1.50 g (3.3%) in 3 runs, ± 0.008 g (k = 2)"]', 'bevelbook', '0.1.0', '2026-11-25T17:53:16.926Z', 'ana');
INSERT INTO calculations (rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by") VALUES (2, '00000000-0000-822e-88ed-b884ddfd8412', 'viscosity', 1, 'run_diffs', '018d6c43-d000-842b-8b6e-ba9f545f3add', '{"viscosity_cst":7000.0,"temperature_c":31.0,"temperature_coefficient_k":1757.1,"viscosity_temperature_coefficient":null,"other_viscosity_cst":null,"other_temperature_c":null}', '{"viscosity_at_temperature_cst":6231.71482352,"ratio_to_25":0.890244974789}', NULL, NULL, '{"viscosity_cst":"the build, run diff 018d6c43-d000-842b-8b6e-ba9f545f3add","temperature_c":"run diff, run diff 018d6c43-d000-842b-8b6e-ba9f545f3add","temperature_coefficient_k":"default","viscosity_temperature_coefficient":"not given","other_viscosity_cst":"not given","other_temperature_c":"not given"}', 'ok', '["7,000 cSt is 6,230 cSt at 31 °C, 11 % thinner than at 25 °C (± 2.8 % by the law, labels are less exact than that)"]', 'bevelbook', '0.1.0', '2026-11-25T17:53:16.926Z', 'ana');
INSERT INTO calculations (rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by") VALUES (3, '00000000-0000-83b2-ae23-33a177b287ee', 'viscosity', 1, 'run_diffs', '018d9576-b000-812c-8fb1-33df98622a4d', '{"viscosity_cst":10000.0,"temperature_c":38.0,"temperature_coefficient_k":1757.1,"viscosity_temperature_coefficient":null,"other_viscosity_cst":null,"other_temperature_c":null}', '{"viscosity_at_temperature_cst":7817.44953348,"ratio_to_25":0.781744953348}', NULL, NULL, '{"viscosity_cst":"the build, run diff 018d9576-b000-812c-8fb1-33df98622a4d","temperature_c":"run diff, run diff 018d9576-b000-812c-8fb1-33df98622a4d","temperature_coefficient_k":"default","viscosity_temperature_coefficient":"not given","other_viscosity_cst":"not given","other_temperature_c":"not given"}', 'ok', '["10,000 cSt is 7,820 cSt at 38 °C, 22 % thinner than at 25 °C (± 2.8 % by the law, labels are less exact than that)"]', 'bevelbook', '0.1.0', '2026-11-25T17:53:16.926Z', 'ana');
INSERT INTO calculations (rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by") VALUES (4, '00000000-0000-8d7f-bb81-73f0346e0f23', 'viscosity', 1, 'run_diffs', '018d9576-b000-8dc8-8cf9-c478743cd83d', '{"viscosity_cst":10000.0,"temperature_c":38.0,"temperature_coefficient_k":1757.1,"viscosity_temperature_coefficient":null,"other_viscosity_cst":null,"other_temperature_c":null}', '{"viscosity_at_temperature_cst":7817.44953348,"ratio_to_25":0.781744953348}', NULL, NULL, '{"viscosity_cst":"the build, run diff 018d9576-b000-8dc8-8cf9-c478743cd83d","temperature_c":"run diff, run diff 018d9576-b000-8dc8-8cf9-c478743cd83d","temperature_coefficient_k":"default","viscosity_temperature_coefficient":"not given","other_viscosity_cst":"not given","other_temperature_c":"not given"}', 'ok', '["10,000 cSt is 7,820 cSt at 38 °C, 22 % thinner than at 25 °C (± 2.8 % by the law, labels are less exact than that)"]', 'bevelbook', '0.1.0', '2026-11-25T17:53:16.926Z', 'ana');
INSERT INTO calculations (rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by") VALUES (5, '00000000-0000-8caf-9222-32351f340431', 'leak-trend', 2, 'builds', '01a213d7-2b48-775d-9e0b-a788fe05dea2', '{"weighings":[{"runs":0.0,"mass_g":18.35,"scale_step_g":0.01,"repeatability_g":0.02},{"runs":6.0,"mass_g":18.29,"scale_step_g":0.01,"repeatability_g":0.02}],"scale_step_g":0.01,"repeatability_g":0.02,"oil_mass_g":1.5,"caution_share":0.05,"stop_share":0.1}', '{"loss_g":0.06,"loss_low_g":0.00284523933506,"loss_high_g":0.117154760665,"smallest_loss_seen_g":0.0560116654516,"loss_share":0.04,"changed_after_runs":null,"changed_before_runs":null,"loss_g_per_run":null,"loss_low_g_per_run":null,"loss_high_g_per_run":null,"runs_to_limit":null,"runs_to_limit_low":null,"runs_to_limit_high":null,"runs_left":null}', '[{"from_runs":0.0,"to_runs":6.0,"loss_g":0.06,"loss_g_per_run":0.01,"uncertainty_g_per_run":0.00952579344416,"detected":"yes"}]', NULL, '{"weighings":"the build''s masses on the basis weighed last, rear-b/2","scale_step_g":"scale, build rear-b/2","repeatability_g":"scale, build rear-b/2","oil_mass_g":"the build, build rear-b/2","caution_share":"default","stop_share":"default"}', 'not told', '["lost 0.06 g of 1.50 g (4.0%) in 6 runs, ± 0.057 g (k = 2)","whether it is over 5% of the oil, 0.075 g (this project''s proposal) this scale cannot tell"]', 'bevelbook', '0.1.0', '2026-11-25T17:53:18.475Z', 'ana');
INSERT INTO calculations (rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by") VALUES (6, '00000000-0000-8906-a794-8649711ad52f', 'fluid-ratio', 1, NULL, NULL, '{"times":[{"fluid":"a","time_s":10.0},{"fluid":"a","time_s":10.1},{"fluid":"b","time_s":10.05},{"fluid":"b","time_s":10.1}],"temperature_c":21.0,"time_uncertainty_s":0.2,"temperature_difference_k":0.5}', '{"ratio":1.00249688279,"ratio_low":0.962596222276,"ratio_high":1.04405146908,"thicker":"not told apart"}', NULL, NULL, '{"times":"given","temperature_c":"given","time_uncertainty_s":"default","temperature_difference_k":"default"}', 'not told', '["not told apart: this test sees no difference under 4 %","b over a is 1.002, between 0.963 and 1.044 (95 %)","2 and 2 times: three of each tell more"]', 'bevelbook', '0.1.0', '2026-11-25T17:53:19.291Z', 'ana');
INSERT INTO calculations (rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by") VALUES (7, '00000000-0000-8cd4-a328-1aaa6b486362', 'fill-target', 1, 'builds', '01a213d7-2b1c-7305-929c-dbad2995d1d3', '{"dry_mass_g":9.61,"oil_mass_g":1.50252472563,"free_volume_cm3":1.7,"fill_fraction":0.85,"viscosity_cst":61200.0,"density_g_cm3":null,"oil_temperature_c":20,"scale_step_g":0.01,"repeatability_g":0.02,"scale_error_g":0,"reading_g":null,"last_dry_mass_g":null}', '{"stop_mass_g":11.1125247256,"oil_mass_g":1.50252472563,"oil_volume_cm3":1.53232962061,"fill_fraction":0.901370365067,"uncertainty_g":0.0571547606649,"stop_low_g":11.05,"stop_high_g":11.17,"remaining_g":null}', NULL, NULL, '{"dry_mass_g":"the build, build rear-b/1","oil_mass_g":"the build, build rear-b/1","free_volume_cm3":"diff, build rear-b/1","fill_fraction":"default","viscosity_cst":"own measurement of the bottle, build rear-b/1","density_g_cm3":"not given","oil_temperature_c":"default","scale_step_g":"scale, build rear-b/1","repeatability_g":"scale, build rear-b/1","scale_error_g":"default","reading_g":"not given","last_dry_mass_g":"not given"}', 'caution', '["the oil takes 90.1% of the room: over 86.6% the pressure at 60 °C passes 50 kPa (this project''s proposal)","stop at 11.11 g; readings from 11.05 to 11.17 g are as good"]', 'bevelbook', '0.1.0', '2026-11-25T17:53:19.417Z', 'ana');
INSERT INTO calculations (rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by") VALUES (8, '00000000-0000-8ee9-bcf7-44394456fe86', 'blend', 1, 'builds', '01a213d7-2b48-775d-9e0b-a788fe05dea2', '{"parts":[{"viscosity_cst":7000.0,"mass_g":0.8},{"viscosity_cst":60000.0,"mass_g":0.7}],"target_viscosity_cst":null,"blend_mass_g":20}', '{"viscosity_blend_cst":19077.5619069,"low_cst":18005.0613997,"high_cst":23080.1895735}', '[{"viscosity_cst":7000.0,"mass_g":0.8,"mass_fraction":0.533333333333},{"viscosity_cst":60000.0,"mass_g":0.7,"mass_fraction":0.466666666667}]', NULL, '{"parts":"the parts of the build''s blend","target_viscosity_cst":"not given","blend_mass_g":"default"}', 'caution', '["0.80 g of the 7,000 and 0.70 g of the 60,000 make 1.50 g of 19,080 cSt","the thickest is 8.6 times the thinnest, more than 4 (this project''s proposal): the blend may come out thicker than this","published rules read it from 18,000 to 23,100 cSt; labels alone are good to ±5 to 10 % (from memory, unverified)"]', 'bevelbook', '0.1.0', '2026-11-25T17:53:19.468Z', 'ana');
INSERT INTO clashes (rowid, "id", "table_name", "row_id", "here", "brought", "met_on", "settled") VALUES (1, '01a213d7-308e-7537-9fcd-a14dd88833d9', 'ideas', '0190aaaa-0000-7000-8000-000000000001', '{}', '{}', '2024-06-01', NULL);
INSERT INTO history ("id", "table_name", "row_id", "what", "old", "content_hash", "replaced_at", "replaced_by") VALUES (1, 'venues', '01a213d7-2726-778d-8473-7deb3b764217', 'changed', '{"id":"01a213d7-2726-778d-8473-7deb3b764217","name":"North Quay","surface":"carpet","indoor":"yes","altitude_m":12.0,"note":null,"entered":"{\"name\": \"North Quay\", \"surface\": \"carpet\", \"indoor\": \"yes\", \"altitude_m\": \"12\"}","note_file":null,"note_line":null,"created_at":"2026-11-25T17:53:17.094Z","updated_at":"2026-11-25T17:53:17.094Z","updated_by":"ana"}', 'bba4f974e20e7f479dba3338120bef254b9a159fdab3e8e4825ff2700c3ca6e8', '2026-11-25T17:53:18.656Z', 'ana');
INSERT INTO history ("id", "table_name", "row_id", "what", "old", "content_hash", "replaced_at", "replaced_by") VALUES (2, 'venues', '01a213d7-2726-778d-8473-7deb3b764217', 'changed', '{"id":"01a213d7-2726-778d-8473-7deb3b764217","name":"North Quay","surface":"asphalt","indoor":"yes","altitude_m":12.0,"note":null,"entered":"{\"name\": \"North Quay\", \"surface\": \"asphalt\", \"indoor\": \"yes\", \"altitude_m\": \"12\"}","note_file":null,"note_line":null,"created_at":"2026-11-25T17:53:17.094Z","updated_at":"2026-11-25T17:53:18.656Z","updated_by":"ana"}', 'f7e695c7222fa0873ba07d31fc027570af6ebdf40a7f27f7b45217c4ac81bff0', '2026-11-25T17:53:18.703Z', 'ana');
INSERT INTO history ("id", "table_name", "row_id", "what", "old", "content_hash", "replaced_at", "replaced_by") VALUES (3, 'builds', '01a213d7-2b48-775d-9e0b-a788fe05dea2', 'changed', '{"id":"01a213d7-2b48-775d-9e0b-a788fe05dea2","label":"rear-b/2","diff":"01a213d7-27dd-73af-ad39-cd50a857f01b","built_on":"2024-05-04","kind":"new","builder":null,"like":"01a213d7-2b1c-7305-929c-dbad2995d1d3","tries":null,"fluid":null,"bottle":"01a213d7-285a-76af-bef0-fcde2b8fe61d","viscosity_cst":null,"viscosity_from":null,"dry_mass_g":9.49709024688,"target_oil_mass_g":null,"oil_mass_g":1.5,"filled_mass_g":null,"closed_mass_g":18.35,"mass_basis":"open half","parts_on_pan":null,"scale":"01a213d7-2766-70cf-bc58-f387f960d645","squeeze_out":null,"degassing":null,"grease":null,"gasket":null,"screw_torque_nm":null,"hand_feel":null,"against_last":null,"note":null,"entered":"{\"diff\": \"rear-b\", \"built_on\": \"2024-05-04\", \"like\": \"rear-b/1\", \"dry_mass_g\": \"0.335oz\", \"oil_mass_g\": \"1.50g\", \"closed_mass_g\": \"18.35g\", \"scale\": \"bench scale\", \"kind\": \"carried over from rear-b/1\", \"bottle\": \"carried over from rear-b/1\", \"mass_basis\": \"carried over from rear-b/1\"}","note_file":null,"note_line":null,"created_at":"2026-11-25T17:53:18.152Z","updated_at":"2026-11-25T17:53:18.152Z","updated_by":"ana"}', '3c06540e52f39db018bfbb59c75cbd27fcecf8d5ca023dba732b01a032312904', '2026-11-25T17:53:18.752Z', 'ana');
INSERT INTO history ("id", "table_name", "row_id", "what", "old", "content_hash", "replaced_at", "replaced_by") VALUES (4, 'builds', '018d6c43-d000-842b-8b6e-ba9f545f3adb', 'changed', '{"id":"018d6c43-d000-842b-8b6e-ba9f545f3adb","label":"rear-a/1","diff":"00000000-0000-89c9-b7d4-a45924b4b533","built_on":"2024-02-03","kind":null,"builder":"00000000-0000-8a00-89f9-6f5dd908b824","like":null,"tries":null,"fluid":"00000000-0000-82d2-8915-20ee04e6eec5","bottle":null,"viscosity_cst":7000.0,"viscosity_from":"note","dry_mass_g":9.52,"target_oil_mass_g":null,"oil_mass_g":1.5,"filled_mass_g":11.02,"closed_mass_g":null,"mass_basis":null,"parts_on_pan":null,"scale":null,"squeeze_out":null,"degassing":null,"grease":null,"gasket":null,"screw_torque_nm":null,"hand_feel":null,"against_last":null,"note":null,"entered":null,"note_file":"e100b2487ac0b132","note_line":2,"created_at":"2026-11-25T17:53:16.802Z","updated_at":"2026-11-25T17:53:16.802Z","updated_by":"ana"}', '398b41718f3961601b0f92edbcd39a97aedc9547d6661fddc2821d3d452d176a', '2026-11-25T17:53:18.815Z', 'ana');
INSERT INTO history ("id", "table_name", "row_id", "what", "old", "content_hash", "replaced_at", "replaced_by") VALUES (5, 'ideas', '01a213d7-308e-7537-9fcd-a14c3170793f', 'removed', '{"id":"01a213d7-308e-7537-9fcd-a14c3170793f","text":"a shim under each small gear","venue":null,"run":null,"person":null,"noted_on":null,"dropped":null,"entered":null,"note_file":null,"note_line":null,"created_at":"2026-11-25T17:53:19.502Z","updated_at":"2026-11-25T17:53:19.502Z","updated_by":"bo"}', '4cb203654ba2b6c7c73cd4c086ef729b42b4bcbf22e08a1b526502ea447b2e85', '2026-11-25T17:53:19.502Z', NULL);
INSERT INTO history ("id", "table_name", "row_id", "what", "old", "content_hash", "replaced_at", "replaced_by") VALUES (6, 'ideas', '0190aaaa-0000-7000-8000-000000000001', 'changed', '{"id":"0190aaaa-0000-7000-8000-000000000001","text":"shorter springs","venue":null,"run":null,"person":null,"noted_on":null,"dropped":null,"entered":null,"note_file":null,"note_line":null,"created_at":"2026-11-25T17:53:19.502Z","updated_at":"2026-11-25T17:53:19.502Z","updated_by":"bo"}', '999435466c0b34cce41cbf06f05a959d52dee5da6ae6f25207aee14f9d9138ab', '2026-11-25T17:53:19.502Z', 'bo');
INSERT INTO history ("id", "table_name", "row_id", "what", "old", "content_hash", "replaced_at", "replaced_by") VALUES (7, 'ideas', '0190aaaa-0000-7000-8000-000000000001', 'removed', '{"id":"0190aaaa-0000-7000-8000-000000000001","text":"shorter springs","venue":null,"run":null,"person":null,"noted_on":null,"dropped":"no springs in a diff","entered":null,"note_file":null,"note_line":null,"created_at":"2026-11-25T17:53:19.502Z","updated_at":"2026-11-25T17:53:19.502Z","updated_by":"bo"}', 'c53684359744defd1e829536b9ba0ab6c39abb848b7e250e6a54162372828a54', '2026-11-25T17:53:19.502Z', NULL);
INSERT INTO history ("id", "table_name", "row_id", "what", "old", "content_hash", "replaced_at", "replaced_by") VALUES (8, 'builds', '01a213d7-2b48-775d-9e0b-a788fe05dea2', 'changed', '{"id":"01a213d7-2b48-775d-9e0b-a788fe05dea2","label":"rear-b/2","diff":"01a213d7-27dd-73af-ad39-cd50a857f01b","built_on":"2024-05-04","kind":"new","builder":null,"like":"01a213d7-2b1c-7305-929c-dbad2995d1d3","tries":null,"fluid":null,"bottle":"01a213d7-285a-76af-bef0-fcde2b8fe61d","viscosity_cst":null,"viscosity_from":null,"dry_mass_g":9.49709024688,"target_oil_mass_g":null,"oil_mass_g":1.5,"filled_mass_g":null,"closed_mass_g":18.35,"mass_basis":"open half","parts_on_pan":null,"scale":"01a213d7-2766-70cf-bc58-f387f960d645","squeeze_out":null,"degassing":null,"grease":null,"gasket":null,"screw_torque_nm":null,"hand_feel":null,"against_last":null,"note":"dry mass typed in ounces","entered":"{\"diff\": \"rear-b\", \"built_on\": \"2024-05-04\", \"like\": \"rear-b/1\", \"dry_mass_g\": \"0.335oz\", \"oil_mass_g\": \"1.50g\", \"closed_mass_g\": \"18.35g\", \"scale\": \"bench scale\", \"kind\": \"carried over from rear-b/1\", \"bottle\": \"carried over from rear-b/1\", \"mass_basis\": \"carried over from rear-b/1\", \"note\": \"dry mass typed in ounces\"}","note_file":null,"note_line":null,"created_at":"2026-11-25T17:53:18.152Z","updated_at":"2026-11-25T17:53:18.752Z","updated_by":"ana"}', '0a469670df3997e517310db176209306a5621cb24675a2382eb93cef345c8e5d', '2026-11-25T17:53:19.502Z', 'bo');
INSERT INTO note_bytes (rowid, "sha256", "packed") VALUES (1, 'e100b2487ac0b1328185098966e1b823bfe13f002dc2e22221f589f4ed687aea', X'7801c5524972c32010bce7157a405b05921ddbd79cf280dc551846161102178b53fa7dc6721cc7a9dcc3018665ba7ba6312a130ec53a4311c5db0c13e76e5229754704eb6e610e597d6fce36e9906c9e3b9d327a57acc1997c219c2ec736781ca33d2147a5c72ed374ea34948db7d0d8bebfc5b1f804ad9c43a4545cee7c604529e8313d35a259af44b3122d9457fc40c595c2bede3490f54640ca5a34d80a21308492a8da8e7853de539cabd72ba48a18ec7140b386dca3956830129d2e8c53157c453ec7190757e89b4d0a1cc28d0c90a2de6f813f80f990c707c3a54ae52a0f54bd07eb33ee50f20714eb66c9f57ab7405ee6bb702946bc44abc7de92330b395cf858043fa3dda1851e943f72874b1a2855d62f7c9335c6d1bf11b6ec0ef48c3e069fd99a5d2d25243bc4cbe65edde6a1b8e5312632b64c90dc87869b7c75850b375fcd6368aef917b43ae8bfc0af46f07ccfddffcc5dee1f3ec68306be5e5f923f01e916ef31');
INSERT INTO bottles_search(bottles_search) VALUES ('rebuild');
INSERT INTO builds_search(builds_search) VALUES ('rebuild');
INSERT INTO diffs_search(diffs_search) VALUES ('rebuild');
INSERT INTO fluids_search(fluids_search) VALUES ('rebuild');
INSERT INTO ideas_search(ideas_search) VALUES ('rebuild');
INSERT INTO openings_search(openings_search) VALUES ('rebuild');
INSERT INTO runs_search(runs_search) VALUES ('rebuild');
INSERT INTO venues_search(venues_search) VALUES ('rebuild');
INSERT INTO weighings_search(weighings_search) VALUES ('rebuild');
CREATE TRIGGER people_changed AFTER UPDATE ON people BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('people', OLD.id, 'changed', json_object('id', OLD."id", 'name', OLD."name", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'name', OLD."name", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER people_removed AFTER DELETE ON people BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('people', OLD.id, 'removed', json_object('id', OLD."id", 'name', OLD."name", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'name', OLD."name", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER cars_changed AFTER UPDATE ON cars BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('cars', OLD.id, 'changed', json_object('id', OLD."id", 'name', OLD."name", 'drive', OLD."drive", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'name', OLD."name", 'drive', OLD."drive", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER cars_removed AFTER DELETE ON cars BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('cars', OLD.id, 'removed', json_object('id', OLD."id", 'name', OLD."name", 'drive', OLD."drive", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'name', OLD."name", 'drive', OLD."drive", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER venues_changed AFTER UPDATE ON venues BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('venues', OLD.id, 'changed', json_object('id', OLD."id", 'name', OLD."name", 'surface', OLD."surface", 'indoor', OLD."indoor", 'altitude_m', OLD."altitude_m", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'name', OLD."name", 'surface', OLD."surface", 'indoor', OLD."indoor", 'altitude_m', OLD."altitude_m", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER venues_removed AFTER DELETE ON venues BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('venues', OLD.id, 'removed', json_object('id', OLD."id", 'name', OLD."name", 'surface', OLD."surface", 'indoor', OLD."indoor", 'altitude_m', OLD."altitude_m", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'name', OLD."name", 'surface', OLD."surface", 'indoor', OLD."indoor", 'altitude_m', OLD."altitude_m", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER venues_search_removed AFTER DELETE ON venues BEGIN INSERT INTO venues_search (venues_search, rowid, "name", "note") VALUES ('delete', OLD.rowid, OLD."name", OLD."note"); END;
CREATE TRIGGER venues_search_changed AFTER UPDATE OF "name", "note" ON venues BEGIN INSERT INTO venues_search (venues_search, rowid, "name", "note") VALUES ('delete', OLD.rowid, OLD."name", OLD."note"); INSERT INTO venues_search (rowid, "name", "note") VALUES (NEW.rowid, NEW."name", NEW."note"); END;
CREATE TRIGGER scales_changed AFTER UPDATE ON scales BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('scales', OLD.id, 'changed', json_object('id', OLD."id", 'name', OLD."name", 'step_g', OLD."step_g", 'repeatability_g', OLD."repeatability_g", 'error_bound_g', OLD."error_bound_g", 'checked_on', OLD."checked_on", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'name', OLD."name", 'step_g', OLD."step_g", 'repeatability_g', OLD."repeatability_g", 'error_bound_g', OLD."error_bound_g", 'checked_on', OLD."checked_on", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER scales_removed AFTER DELETE ON scales BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('scales', OLD.id, 'removed', json_object('id', OLD."id", 'name', OLD."name", 'step_g', OLD."step_g", 'repeatability_g', OLD."repeatability_g", 'error_bound_g', OLD."error_bound_g", 'checked_on', OLD."checked_on", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'name', OLD."name", 'step_g', OLD."step_g", 'repeatability_g', OLD."repeatability_g", 'error_bound_g', OLD."error_bound_g", 'checked_on', OLD."checked_on", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER seals_changed AFTER UPDATE ON seals BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('seals', OLD.id, 'changed', json_object('id', OLD."id", 'label', OLD."label", 'form', OLD."form", 'inside_diameter_mm', OLD."inside_diameter_mm", 'section_mm', OLD."section_mm", 'outside_diameter_mm', OLD."outside_diameter_mm", 'material', OLD."material", 'hardness', OLD."hardness", 'groove_depth_mm', OLD."groove_depth_mm", 'groove_width_mm', OLD."groove_width_mm", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'label', OLD."label", 'form', OLD."form", 'inside_diameter_mm', OLD."inside_diameter_mm", 'section_mm', OLD."section_mm", 'outside_diameter_mm', OLD."outside_diameter_mm", 'material', OLD."material", 'hardness', OLD."hardness", 'groove_depth_mm', OLD."groove_depth_mm", 'groove_width_mm', OLD."groove_width_mm", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER seals_removed AFTER DELETE ON seals BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('seals', OLD.id, 'removed', json_object('id', OLD."id", 'label', OLD."label", 'form', OLD."form", 'inside_diameter_mm', OLD."inside_diameter_mm", 'section_mm', OLD."section_mm", 'outside_diameter_mm', OLD."outside_diameter_mm", 'material', OLD."material", 'hardness', OLD."hardness", 'groove_depth_mm', OLD."groove_depth_mm", 'groove_width_mm', OLD."groove_width_mm", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'label', OLD."label", 'form', OLD."form", 'inside_diameter_mm', OLD."inside_diameter_mm", 'section_mm', OLD."section_mm", 'outside_diameter_mm', OLD."outside_diameter_mm", 'material', OLD."material", 'hardness', OLD."hardness", 'groove_depth_mm', OLD."groove_depth_mm", 'groove_width_mm', OLD."groove_width_mm", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER diffs_changed AFTER UPDATE ON diffs BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('diffs', OLD.id, 'changed', json_object('id', OLD."id", 'label', OLD."label", 'usual_position', OLD."usual_position", 'housing_material', OLD."housing_material", 'free_volume_cm3', OLD."free_volume_cm3", 'free_volume_from', OLD."free_volume_from", 'screw_count', OLD."screw_count", 'screw_size', OLD."screw_size", 'screw_hole', OLD."screw_hole", 'shaft_diameter_mm', OLD."shaft_diameter_mm", 'joint_seal', OLD."joint_seal", 'shaft_seal', OLD."shaft_seal", 'usual_dry_mass_g', OLD."usual_dry_mass_g", 'usual_lid_mass_g', OLD."usual_lid_mass_g", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'label', OLD."label", 'usual_position', OLD."usual_position", 'housing_material', OLD."housing_material", 'free_volume_cm3', OLD."free_volume_cm3", 'free_volume_from', OLD."free_volume_from", 'screw_count', OLD."screw_count", 'screw_size', OLD."screw_size", 'screw_hole', OLD."screw_hole", 'shaft_diameter_mm', OLD."shaft_diameter_mm", 'joint_seal', OLD."joint_seal", 'shaft_seal', OLD."shaft_seal", 'usual_dry_mass_g', OLD."usual_dry_mass_g", 'usual_lid_mass_g', OLD."usual_lid_mass_g", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER diffs_removed AFTER DELETE ON diffs BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('diffs', OLD.id, 'removed', json_object('id', OLD."id", 'label', OLD."label", 'usual_position', OLD."usual_position", 'housing_material', OLD."housing_material", 'free_volume_cm3', OLD."free_volume_cm3", 'free_volume_from', OLD."free_volume_from", 'screw_count', OLD."screw_count", 'screw_size', OLD."screw_size", 'screw_hole', OLD."screw_hole", 'shaft_diameter_mm', OLD."shaft_diameter_mm", 'joint_seal', OLD."joint_seal", 'shaft_seal', OLD."shaft_seal", 'usual_dry_mass_g', OLD."usual_dry_mass_g", 'usual_lid_mass_g', OLD."usual_lid_mass_g", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'label', OLD."label", 'usual_position', OLD."usual_position", 'housing_material', OLD."housing_material", 'free_volume_cm3', OLD."free_volume_cm3", 'free_volume_from', OLD."free_volume_from", 'screw_count', OLD."screw_count", 'screw_size', OLD."screw_size", 'screw_hole', OLD."screw_hole", 'shaft_diameter_mm', OLD."shaft_diameter_mm", 'joint_seal', OLD."joint_seal", 'shaft_seal', OLD."shaft_seal", 'usual_dry_mass_g', OLD."usual_dry_mass_g", 'usual_lid_mass_g', OLD."usual_lid_mass_g", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER diffs_search_removed AFTER DELETE ON diffs BEGIN INSERT INTO diffs_search (diffs_search, rowid, "label", "note") VALUES ('delete', OLD.rowid, OLD."label", OLD."note"); END;
CREATE TRIGGER diffs_search_changed AFTER UPDATE OF "label", "note" ON diffs BEGIN INSERT INTO diffs_search (diffs_search, rowid, "label", "note") VALUES ('delete', OLD.rowid, OLD."label", OLD."note"); INSERT INTO diffs_search (rowid, "label", "note") VALUES (NEW.rowid, NEW."label", NEW."note"); END;
CREATE TRIGGER fluids_changed AFTER UPDATE ON fluids BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('fluids', OLD.id, 'changed', json_object('id', OLD."id", 'label', OLD."label", 'medium', OLD."medium", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_source', OLD."viscosity_source", 'density_g_cm3', OLD."density_g_cm3", 'expansion_per_k', OLD."expansion_per_k", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'label', OLD."label", 'medium', OLD."medium", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_source', OLD."viscosity_source", 'density_g_cm3', OLD."density_g_cm3", 'expansion_per_k', OLD."expansion_per_k", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER fluids_removed AFTER DELETE ON fluids BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('fluids', OLD.id, 'removed', json_object('id', OLD."id", 'label', OLD."label", 'medium', OLD."medium", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_source', OLD."viscosity_source", 'density_g_cm3', OLD."density_g_cm3", 'expansion_per_k', OLD."expansion_per_k", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'label', OLD."label", 'medium', OLD."medium", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_source', OLD."viscosity_source", 'density_g_cm3', OLD."density_g_cm3", 'expansion_per_k', OLD."expansion_per_k", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER fluids_search_removed AFTER DELETE ON fluids BEGIN INSERT INTO fluids_search (fluids_search, rowid, "label", "note") VALUES ('delete', OLD.rowid, OLD."label", OLD."note"); END;
CREATE TRIGGER fluids_search_changed AFTER UPDATE OF "label", "note" ON fluids BEGIN INSERT INTO fluids_search (fluids_search, rowid, "label", "note") VALUES ('delete', OLD.rowid, OLD."label", OLD."note"); INSERT INTO fluids_search (rowid, "label", "note") VALUES (NEW.rowid, NEW."label", NEW."note"); END;
CREATE TRIGGER bottles_changed AFTER UPDATE ON bottles BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('bottles', OLD.id, 'changed', json_object('id', OLD."id", 'fluid', OLD."fluid", 'lot', OLD."lot", 'opened_on', OLD."opened_on", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_uncertainty_cst', OLD."viscosity_uncertainty_cst", 'measured_on', OLD."measured_on", 'method', OLD."method", 'density_g_cm3', OLD."density_g_cm3", 'empty', OLD."empty", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'fluid', OLD."fluid", 'lot', OLD."lot", 'opened_on', OLD."opened_on", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_uncertainty_cst', OLD."viscosity_uncertainty_cst", 'measured_on', OLD."measured_on", 'method', OLD."method", 'density_g_cm3', OLD."density_g_cm3", 'empty', OLD."empty", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER bottles_removed AFTER DELETE ON bottles BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('bottles', OLD.id, 'removed', json_object('id', OLD."id", 'fluid', OLD."fluid", 'lot', OLD."lot", 'opened_on', OLD."opened_on", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_uncertainty_cst', OLD."viscosity_uncertainty_cst", 'measured_on', OLD."measured_on", 'method', OLD."method", 'density_g_cm3', OLD."density_g_cm3", 'empty', OLD."empty", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'fluid', OLD."fluid", 'lot', OLD."lot", 'opened_on', OLD."opened_on", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_uncertainty_cst', OLD."viscosity_uncertainty_cst", 'measured_on', OLD."measured_on", 'method', OLD."method", 'density_g_cm3', OLD."density_g_cm3", 'empty', OLD."empty", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER bottles_search_removed AFTER DELETE ON bottles BEGIN INSERT INTO bottles_search (bottles_search, rowid, "lot", "note") VALUES ('delete', OLD.rowid, OLD."lot", OLD."note"); END;
CREATE TRIGGER bottles_search_changed AFTER UPDATE OF "lot", "note" ON bottles BEGIN INSERT INTO bottles_search (bottles_search, rowid, "lot", "note") VALUES ('delete', OLD.rowid, OLD."lot", OLD."note"); INSERT INTO bottles_search (rowid, "lot", "note") VALUES (NEW.rowid, NEW."lot", NEW."note"); END;
CREATE TRIGGER fluid_comparisons_changed AFTER UPDATE ON fluid_comparisons BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('fluid_comparisons', OLD.id, 'changed', json_object('id', OLD."id", 'thicker', OLD."thicker", 'thinner', OLD."thinner", 'ratio', OLD."ratio", 'temperature_c', OLD."temperature_c", 'compared_on', OLD."compared_on", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'thicker', OLD."thicker", 'thinner', OLD."thinner", 'ratio', OLD."ratio", 'temperature_c', OLD."temperature_c", 'compared_on', OLD."compared_on", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER fluid_comparisons_removed AFTER DELETE ON fluid_comparisons BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('fluid_comparisons', OLD.id, 'removed', json_object('id', OLD."id", 'thicker', OLD."thicker", 'thinner', OLD."thinner", 'ratio', OLD."ratio", 'temperature_c', OLD."temperature_c", 'compared_on', OLD."compared_on", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'thicker', OLD."thicker", 'thinner', OLD."thinner", 'ratio', OLD."ratio", 'temperature_c', OLD."temperature_c", 'compared_on', OLD."compared_on", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER ideas_changed AFTER UPDATE ON ideas BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('ideas', OLD.id, 'changed', json_object('id', OLD."id", 'text', OLD."text", 'venue', OLD."venue", 'run', OLD."run", 'person', OLD."person", 'noted_on', OLD."noted_on", 'dropped', OLD."dropped", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'text', OLD."text", 'venue', OLD."venue", 'run', OLD."run", 'person', OLD."person", 'noted_on', OLD."noted_on", 'dropped', OLD."dropped", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER ideas_removed AFTER DELETE ON ideas BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('ideas', OLD.id, 'removed', json_object('id', OLD."id", 'text', OLD."text", 'venue', OLD."venue", 'run', OLD."run", 'person', OLD."person", 'noted_on', OLD."noted_on", 'dropped', OLD."dropped", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'text', OLD."text", 'venue', OLD."venue", 'run', OLD."run", 'person', OLD."person", 'noted_on', OLD."noted_on", 'dropped', OLD."dropped", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER ideas_search_removed AFTER DELETE ON ideas BEGIN INSERT INTO ideas_search (ideas_search, rowid, "text") VALUES ('delete', OLD.rowid, OLD."text"); END;
CREATE TRIGGER ideas_search_changed AFTER UPDATE OF "text" ON ideas BEGIN INSERT INTO ideas_search (ideas_search, rowid, "text") VALUES ('delete', OLD.rowid, OLD."text"); INSERT INTO ideas_search (rowid, "text") VALUES (NEW.rowid, NEW."text"); END;
CREATE TRIGGER builds_changed AFTER UPDATE ON builds BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('builds', OLD.id, 'changed', json_object('id', OLD."id", 'label', OLD."label", 'diff', OLD."diff", 'built_on', OLD."built_on", 'kind', OLD."kind", 'builder', OLD."builder", 'like', OLD."like", 'tries', OLD."tries", 'fluid', OLD."fluid", 'bottle', OLD."bottle", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_from', OLD."viscosity_from", 'dry_mass_g', OLD."dry_mass_g", 'target_oil_mass_g', OLD."target_oil_mass_g", 'oil_mass_g', OLD."oil_mass_g", 'filled_mass_g', OLD."filled_mass_g", 'closed_mass_g', OLD."closed_mass_g", 'mass_basis', OLD."mass_basis", 'parts_on_pan', OLD."parts_on_pan", 'scale', OLD."scale", 'squeeze_out', OLD."squeeze_out", 'degassing', OLD."degassing", 'grease', OLD."grease", 'gasket', OLD."gasket", 'screw_torque_nm', OLD."screw_torque_nm", 'hand_feel', OLD."hand_feel", 'against_last', OLD."against_last", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'label', OLD."label", 'diff', OLD."diff", 'built_on', OLD."built_on", 'kind', OLD."kind", 'builder', OLD."builder", 'like', OLD."like", 'tries', OLD."tries", 'fluid', OLD."fluid", 'bottle', OLD."bottle", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_from', OLD."viscosity_from", 'dry_mass_g', OLD."dry_mass_g", 'target_oil_mass_g', OLD."target_oil_mass_g", 'oil_mass_g', OLD."oil_mass_g", 'filled_mass_g', OLD."filled_mass_g", 'closed_mass_g', OLD."closed_mass_g", 'mass_basis', OLD."mass_basis", 'parts_on_pan', OLD."parts_on_pan", 'scale', OLD."scale", 'squeeze_out', OLD."squeeze_out", 'degassing', OLD."degassing", 'grease', OLD."grease", 'gasket', OLD."gasket", 'screw_torque_nm', OLD."screw_torque_nm", 'hand_feel', OLD."hand_feel", 'against_last', OLD."against_last", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER builds_removed AFTER DELETE ON builds BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('builds', OLD.id, 'removed', json_object('id', OLD."id", 'label', OLD."label", 'diff', OLD."diff", 'built_on', OLD."built_on", 'kind', OLD."kind", 'builder', OLD."builder", 'like', OLD."like", 'tries', OLD."tries", 'fluid', OLD."fluid", 'bottle', OLD."bottle", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_from', OLD."viscosity_from", 'dry_mass_g', OLD."dry_mass_g", 'target_oil_mass_g', OLD."target_oil_mass_g", 'oil_mass_g', OLD."oil_mass_g", 'filled_mass_g', OLD."filled_mass_g", 'closed_mass_g', OLD."closed_mass_g", 'mass_basis', OLD."mass_basis", 'parts_on_pan', OLD."parts_on_pan", 'scale', OLD."scale", 'squeeze_out', OLD."squeeze_out", 'degassing', OLD."degassing", 'grease', OLD."grease", 'gasket', OLD."gasket", 'screw_torque_nm', OLD."screw_torque_nm", 'hand_feel', OLD."hand_feel", 'against_last', OLD."against_last", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'label', OLD."label", 'diff', OLD."diff", 'built_on', OLD."built_on", 'kind', OLD."kind", 'builder', OLD."builder", 'like', OLD."like", 'tries', OLD."tries", 'fluid', OLD."fluid", 'bottle', OLD."bottle", 'viscosity_cst', OLD."viscosity_cst", 'viscosity_from', OLD."viscosity_from", 'dry_mass_g', OLD."dry_mass_g", 'target_oil_mass_g', OLD."target_oil_mass_g", 'oil_mass_g', OLD."oil_mass_g", 'filled_mass_g', OLD."filled_mass_g", 'closed_mass_g', OLD."closed_mass_g", 'mass_basis', OLD."mass_basis", 'parts_on_pan', OLD."parts_on_pan", 'scale', OLD."scale", 'squeeze_out', OLD."squeeze_out", 'degassing', OLD."degassing", 'grease', OLD."grease", 'gasket', OLD."gasket", 'screw_torque_nm', OLD."screw_torque_nm", 'hand_feel', OLD."hand_feel", 'against_last', OLD."against_last", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER builds_search_removed AFTER DELETE ON builds BEGIN INSERT INTO builds_search (builds_search, rowid, "label", "note") VALUES ('delete', OLD.rowid, OLD."label", OLD."note"); END;
CREATE TRIGGER builds_search_changed AFTER UPDATE OF "label", "note" ON builds BEGIN INSERT INTO builds_search (builds_search, rowid, "label", "note") VALUES ('delete', OLD.rowid, OLD."label", OLD."note"); INSERT INTO builds_search (rowid, "label", "note") VALUES (NEW.rowid, NEW."label", NEW."note"); END;
CREATE TRIGGER blend_parts_changed AFTER UPDATE ON blend_parts BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('blend_parts', OLD.id, 'changed', json_object('id', OLD."id", 'build', OLD."build", 'fluid', OLD."fluid", 'bottle', OLD."bottle", 'viscosity_cst', OLD."viscosity_cst", 'mass_g', OLD."mass_g", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'fluid', OLD."fluid", 'bottle', OLD."bottle", 'viscosity_cst', OLD."viscosity_cst", 'mass_g', OLD."mass_g", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER blend_parts_removed AFTER DELETE ON blend_parts BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('blend_parts', OLD.id, 'removed', json_object('id', OLD."id", 'build', OLD."build", 'fluid', OLD."fluid", 'bottle', OLD."bottle", 'viscosity_cst', OLD."viscosity_cst", 'mass_g', OLD."mass_g", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'fluid', OLD."fluid", 'bottle', OLD."bottle", 'viscosity_cst', OLD."viscosity_cst", 'mass_g', OLD."mass_g", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER seal_fittings_changed AFTER UPDATE ON seal_fittings BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('seal_fittings', OLD.id, 'changed', json_object('id', OLD."id", 'build', OLD."build", 'place', OLD."place", 'seal', OLD."seal", 'condition', OLD."condition", 'measured_outside_diameter_mm', OLD."measured_outside_diameter_mm", 'measured_inside_diameter_mm', OLD."measured_inside_diameter_mm", 'measured_section_mm', OLD."measured_section_mm", 'state', OLD."state", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'place', OLD."place", 'seal', OLD."seal", 'condition', OLD."condition", 'measured_outside_diameter_mm', OLD."measured_outside_diameter_mm", 'measured_inside_diameter_mm', OLD."measured_inside_diameter_mm", 'measured_section_mm', OLD."measured_section_mm", 'state', OLD."state", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER seal_fittings_removed AFTER DELETE ON seal_fittings BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('seal_fittings', OLD.id, 'removed', json_object('id', OLD."id", 'build', OLD."build", 'place', OLD."place", 'seal', OLD."seal", 'condition', OLD."condition", 'measured_outside_diameter_mm', OLD."measured_outside_diameter_mm", 'measured_inside_diameter_mm', OLD."measured_inside_diameter_mm", 'measured_section_mm', OLD."measured_section_mm", 'state', OLD."state", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'place', OLD."place", 'seal', OLD."seal", 'condition', OLD."condition", 'measured_outside_diameter_mm', OLD."measured_outside_diameter_mm", 'measured_inside_diameter_mm', OLD."measured_inside_diameter_mm", 'measured_section_mm', OLD."measured_section_mm", 'state', OLD."state", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER build_parts_changed AFTER UPDATE ON build_parts BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('build_parts', OLD.id, 'changed', json_object('id', OLD."id", 'build', OLD."build", 'part', OLD."part", 'place', OLD."place", 'condition', OLD."condition", 'mark', OLD."mark", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'part', OLD."part", 'place', OLD."place", 'condition', OLD."condition", 'mark', OLD."mark", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER build_parts_removed AFTER DELETE ON build_parts BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('build_parts', OLD.id, 'removed', json_object('id', OLD."id", 'build', OLD."build", 'part', OLD."part", 'place', OLD."place", 'condition', OLD."condition", 'mark', OLD."mark", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'part', OLD."part", 'place', OLD."place", 'condition', OLD."condition", 'mark', OLD."mark", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER build_shims_changed AFTER UPDATE ON build_shims BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('build_shims', OLD.id, 'changed', json_object('id', OLD."id", 'build', OLD."build", 'place', OLD."place", 'thickness_mm', OLD."thickness_mm", 'bore_mm', OLD."bore_mm", 'outside_diameter_mm', OLD."outside_diameter_mm", 'pieces', OLD."pieces", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'place', OLD."place", 'thickness_mm', OLD."thickness_mm", 'bore_mm', OLD."bore_mm", 'outside_diameter_mm', OLD."outside_diameter_mm", 'pieces', OLD."pieces", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER build_shims_removed AFTER DELETE ON build_shims BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('build_shims', OLD.id, 'removed', json_object('id', OLD."id", 'build', OLD."build", 'place', OLD."place", 'thickness_mm', OLD."thickness_mm", 'bore_mm', OLD."bore_mm", 'outside_diameter_mm', OLD."outside_diameter_mm", 'pieces', OLD."pieces", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'place', OLD."place", 'thickness_mm', OLD."thickness_mm", 'bore_mm', OLD."bore_mm", 'outside_diameter_mm', OLD."outside_diameter_mm", 'pieces', OLD."pieces", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER weighings_changed AFTER UPDATE ON weighings BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('weighings', OLD.id, 'changed', json_object('id', OLD."id", 'build', OLD."build", 'weighed_on', OLD."weighed_on", 'mass_g', OLD."mass_g", 'mass_basis', OLD."mass_basis", 'parts_on_pan', OLD."parts_on_pan", 'scale', OLD."scale", 'runs', OLD."runs", 'person', OLD."person", 'wiped', OLD."wiped", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'weighed_on', OLD."weighed_on", 'mass_g', OLD."mass_g", 'mass_basis', OLD."mass_basis", 'parts_on_pan', OLD."parts_on_pan", 'scale', OLD."scale", 'runs', OLD."runs", 'person', OLD."person", 'wiped', OLD."wiped", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER weighings_removed AFTER DELETE ON weighings BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('weighings', OLD.id, 'removed', json_object('id', OLD."id", 'build', OLD."build", 'weighed_on', OLD."weighed_on", 'mass_g', OLD."mass_g", 'mass_basis', OLD."mass_basis", 'parts_on_pan', OLD."parts_on_pan", 'scale', OLD."scale", 'runs', OLD."runs", 'person', OLD."person", 'wiped', OLD."wiped", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'weighed_on', OLD."weighed_on", 'mass_g', OLD."mass_g", 'mass_basis', OLD."mass_basis", 'parts_on_pan', OLD."parts_on_pan", 'scale', OLD."scale", 'runs', OLD."runs", 'person', OLD."person", 'wiped', OLD."wiped", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER weighings_search_removed AFTER DELETE ON weighings BEGIN INSERT INTO weighings_search (weighings_search, rowid, "note") VALUES ('delete', OLD.rowid, OLD."note"); END;
CREATE TRIGGER weighings_search_changed AFTER UPDATE OF "note" ON weighings BEGIN INSERT INTO weighings_search (weighings_search, rowid, "note") VALUES ('delete', OLD.rowid, OLD."note"); INSERT INTO weighings_search (rowid, "note") VALUES (NEW.rowid, NEW."note"); END;
CREATE TRIGGER openings_changed AFTER UPDATE ON openings BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('openings', OLD.id, 'changed', json_object('id', OLD."id", 'build', OLD."build", 'opened_on', OLD."opened_on", 'reason', OLD."reason", 'person', OLD."person", 'closed_mass_g', OLD."closed_mass_g", 'scale', OLD."scale", 'leak_place', OLD."leak_place", 'leak_amount', OLD."leak_amount", 'oil', OLD."oil", 'side_gears', OLD."side_gears", 'small_gears', OLD."small_gears", 'shafts', OLD."shafts", 'cross_pin', OLD."cross_pin", 'bores', OLD."bores", 'seals', OLD."seals", 'screws', OLD."screws", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'opened_on', OLD."opened_on", 'reason', OLD."reason", 'person', OLD."person", 'closed_mass_g', OLD."closed_mass_g", 'scale', OLD."scale", 'leak_place', OLD."leak_place", 'leak_amount', OLD."leak_amount", 'oil', OLD."oil", 'side_gears', OLD."side_gears", 'small_gears', OLD."small_gears", 'shafts', OLD."shafts", 'cross_pin', OLD."cross_pin", 'bores', OLD."bores", 'seals', OLD."seals", 'screws', OLD."screws", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER openings_removed AFTER DELETE ON openings BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('openings', OLD.id, 'removed', json_object('id', OLD."id", 'build', OLD."build", 'opened_on', OLD."opened_on", 'reason', OLD."reason", 'person', OLD."person", 'closed_mass_g', OLD."closed_mass_g", 'scale', OLD."scale", 'leak_place', OLD."leak_place", 'leak_amount', OLD."leak_amount", 'oil', OLD."oil", 'side_gears', OLD."side_gears", 'small_gears', OLD."small_gears", 'shafts', OLD."shafts", 'cross_pin', OLD."cross_pin", 'bores', OLD."bores", 'seals', OLD."seals", 'screws', OLD."screws", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'build', OLD."build", 'opened_on', OLD."opened_on", 'reason', OLD."reason", 'person', OLD."person", 'closed_mass_g', OLD."closed_mass_g", 'scale', OLD."scale", 'leak_place', OLD."leak_place", 'leak_amount', OLD."leak_amount", 'oil', OLD."oil", 'side_gears', OLD."side_gears", 'small_gears', OLD."small_gears", 'shafts', OLD."shafts", 'cross_pin', OLD."cross_pin", 'bores', OLD."bores", 'seals', OLD."seals", 'screws', OLD."screws", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER openings_search_removed AFTER DELETE ON openings BEGIN INSERT INTO openings_search (openings_search, rowid, "note") VALUES ('delete', OLD.rowid, OLD."note"); END;
CREATE TRIGGER openings_search_changed AFTER UPDATE OF "note" ON openings BEGIN INSERT INTO openings_search (openings_search, rowid, "note") VALUES ('delete', OLD.rowid, OLD."note"); INSERT INTO openings_search (rowid, "note") VALUES (NEW.rowid, NEW."note"); END;
CREATE TRIGGER runs_changed AFTER UPDATE ON runs BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('runs', OLD.id, 'changed', json_object('id', OLD."id", 'label', OLD."label", 'run_on', OLD."run_on", 'started_at', OLD."started_at", 'day_order', OLD."day_order", 'event', OLD."event", 'venue', OLD."venue", 'car', OLD."car", 'driver', OLD."driver", 'noted_by', OLD."noted_by", 'surface_state', OLD."surface_state", 'grip', OLD."grip", 'grip_trend', OLD."grip_trend", 'air_temp_c', OLD."air_temp_c", 'track_temp_c', OLD."track_temp_c", 'runs', OLD."runs", 'laps', OLD."laps", 'lap_times', OLD."lap_times", 'best_lap_s', OLD."best_lap_s", 'best_five_s', OLD."best_five_s", 'tyres', OLD."tyres", 'tyre_runs', OLD."tyre_runs", 'changed', OLD."changed", 'balance_entry', OLD."balance_entry", 'balance_middle', OLD."balance_middle", 'balance_exit', OLD."balance_exit", 'forward_drive', OLD."forward_drive", 'side_bite', OLD."side_bite", 'happened', OLD."happened", 'call', OLD."call", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'label', OLD."label", 'run_on', OLD."run_on", 'started_at', OLD."started_at", 'day_order', OLD."day_order", 'event', OLD."event", 'venue', OLD."venue", 'car', OLD."car", 'driver', OLD."driver", 'noted_by', OLD."noted_by", 'surface_state', OLD."surface_state", 'grip', OLD."grip", 'grip_trend', OLD."grip_trend", 'air_temp_c', OLD."air_temp_c", 'track_temp_c', OLD."track_temp_c", 'runs', OLD."runs", 'laps', OLD."laps", 'lap_times', OLD."lap_times", 'best_lap_s', OLD."best_lap_s", 'best_five_s', OLD."best_five_s", 'tyres', OLD."tyres", 'tyre_runs', OLD."tyre_runs", 'changed', OLD."changed", 'balance_entry', OLD."balance_entry", 'balance_middle', OLD."balance_middle", 'balance_exit', OLD."balance_exit", 'forward_drive', OLD."forward_drive", 'side_bite', OLD."side_bite", 'happened', OLD."happened", 'call', OLD."call", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER runs_removed AFTER DELETE ON runs BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('runs', OLD.id, 'removed', json_object('id', OLD."id", 'label', OLD."label", 'run_on', OLD."run_on", 'started_at', OLD."started_at", 'day_order', OLD."day_order", 'event', OLD."event", 'venue', OLD."venue", 'car', OLD."car", 'driver', OLD."driver", 'noted_by', OLD."noted_by", 'surface_state', OLD."surface_state", 'grip', OLD."grip", 'grip_trend', OLD."grip_trend", 'air_temp_c', OLD."air_temp_c", 'track_temp_c', OLD."track_temp_c", 'runs', OLD."runs", 'laps', OLD."laps", 'lap_times', OLD."lap_times", 'best_lap_s', OLD."best_lap_s", 'best_five_s', OLD."best_five_s", 'tyres', OLD."tyres", 'tyre_runs', OLD."tyre_runs", 'changed', OLD."changed", 'balance_entry', OLD."balance_entry", 'balance_middle', OLD."balance_middle", 'balance_exit', OLD."balance_exit", 'forward_drive', OLD."forward_drive", 'side_bite', OLD."side_bite", 'happened', OLD."happened", 'call', OLD."call", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'label', OLD."label", 'run_on', OLD."run_on", 'started_at', OLD."started_at", 'day_order', OLD."day_order", 'event', OLD."event", 'venue', OLD."venue", 'car', OLD."car", 'driver', OLD."driver", 'noted_by', OLD."noted_by", 'surface_state', OLD."surface_state", 'grip', OLD."grip", 'grip_trend', OLD."grip_trend", 'air_temp_c', OLD."air_temp_c", 'track_temp_c', OLD."track_temp_c", 'runs', OLD."runs", 'laps', OLD."laps", 'lap_times', OLD."lap_times", 'best_lap_s', OLD."best_lap_s", 'best_five_s', OLD."best_five_s", 'tyres', OLD."tyres", 'tyre_runs', OLD."tyre_runs", 'changed', OLD."changed", 'balance_entry', OLD."balance_entry", 'balance_middle', OLD."balance_middle", 'balance_exit', OLD."balance_exit", 'forward_drive', OLD."forward_drive", 'side_bite', OLD."side_bite", 'happened', OLD."happened", 'call', OLD."call", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER runs_search_removed AFTER DELETE ON runs BEGIN INSERT INTO runs_search (runs_search, rowid, "event", "changed", "happened", "note") VALUES ('delete', OLD.rowid, OLD."event", OLD."changed", OLD."happened", OLD."note"); END;
CREATE TRIGGER runs_search_changed AFTER UPDATE OF "event", "changed", "happened", "note" ON runs BEGIN INSERT INTO runs_search (runs_search, rowid, "event", "changed", "happened", "note") VALUES ('delete', OLD.rowid, OLD."event", OLD."changed", OLD."happened", OLD."note"); INSERT INTO runs_search (rowid, "event", "changed", "happened", "note") VALUES (NEW.rowid, NEW."event", NEW."changed", NEW."happened", NEW."note"); END;
CREATE TRIGGER run_diffs_changed AFTER UPDATE ON run_diffs BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('run_diffs', OLD.id, 'changed', json_object('id', OLD."id", 'run', OLD."run", 'build', OLD."build", 'position', OLD."position", 'diff_temp_c', OLD."diff_temp_c", 'temp_taken', OLD."temp_taken", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'run', OLD."run", 'build', OLD."build", 'position', OLD."position", 'diff_temp_c', OLD."diff_temp_c", 'temp_taken', OLD."temp_taken", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER run_diffs_removed AFTER DELETE ON run_diffs BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('run_diffs', OLD.id, 'removed', json_object('id', OLD."id", 'run', OLD."run", 'build', OLD."build", 'position', OLD."position", 'diff_temp_c', OLD."diff_temp_c", 'temp_taken', OLD."temp_taken", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'run', OLD."run", 'build', OLD."build", 'position', OLD."position", 'diff_temp_c', OLD."diff_temp_c", 'temp_taken', OLD."temp_taken", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE TRIGGER limits_changed AFTER UPDATE ON limits BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('limits', OLD.id, 'changed', json_object('id', OLD."id", 'kind', OLD."kind", 'value', OLD."value", 'diff', OLD."diff", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'kind', OLD."kind", 'value', OLD."value", 'diff', OLD."diff", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NEW.updated_by); END;
CREATE TRIGGER limits_removed AFTER DELETE ON limits BEGIN INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ('limits', OLD.id, 'removed', json_object('id', OLD."id", 'kind', OLD."kind", 'value', OLD."value", 'diff', OLD."diff", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line", 'created_at', OLD."created_at", 'updated_at', OLD."updated_at", 'updated_by', OLD."updated_by"), bevelbook_hash(json_object('id', OLD."id", 'kind', OLD."kind", 'value', OLD."value", 'diff', OLD."diff", 'note', OLD."note", 'entered', OLD."entered", 'note_file', OLD."note_file", 'note_line', OLD."note_line")), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), NULL); END;
CREATE VIEW latest_calculations AS SELECT * FROM (
    SELECT calculations.*,
           row_number() OVER (
               PARTITION BY calculator, subject_table, subject_id ORDER BY version DESC, calculated_at DESC, id DESC
           ) AS place
    FROM calculations
) WHERE place = 1;
CREATE VIEW current_builds AS SELECT * FROM (
    SELECT builds.*,
           row_number() OVER (
               PARTITION BY diff ORDER BY built_on DESC, note_line DESC, created_at DESC, id DESC
           ) AS place
    FROM builds
) WHERE place = 1;
CREATE VIEW build_runs AS SELECT run_diffs.id AS run_diff, run_diffs.build, run_diffs.run, runs.run_on, runs.day_order,
       coalesce(runs.runs, 1) AS runs,
       sum(coalesce(runs.runs, 1)) OVER (
           PARTITION BY run_diffs.build
           ORDER BY runs.run_on, runs.day_order, runs.note_line, runs.id
           ROWS UNBOUNDED PRECEDING
       ) AS runs_after
FROM run_diffs JOIN runs ON runs.id = run_diffs.run;
CREATE VIEW build_counts AS SELECT b.id AS build, b.diff, b.built_on,
       row_number() OVER (PARTITION BY b.diff ORDER BY b.built_on, b.note_line, b.created_at, b.id) AS nth,
       max(coalesce((SELECT sum(coalesce(r.runs, 1)) FROM run_diffs d JOIN runs r ON r.id = d.run
                     WHERE d.build = b.id), 0.0),
           coalesce((SELECT max(w.runs) FROM weighings w WHERE w.build = b.id), 0.0)) AS runs
FROM builds b;
CREATE VIEW part_runs AS WITH counts AS (SELECT b.id AS build, b.diff, b.built_on,
       row_number() OVER (PARTITION BY b.diff ORDER BY b.built_on, b.note_line, b.created_at, b.id) AS nth,
       max(coalesce((SELECT sum(coalesce(r.runs, 1)) FROM run_diffs d JOIN runs r ON r.id = d.run
                     WHERE d.build = b.id), 0.0),
           coalesce((SELECT max(w.runs) FROM weighings w WHERE w.build = b.id), 0.0)) AS runs
FROM builds b
    WHERE b.diff IN (SELECT n.diff FROM builds n WHERE n.id IN (
        SELECT build FROM seal_fittings UNION SELECT build FROM build_parts))
),
noted AS (
    SELECT build, 'seal' AS part, place, condition, seal AS sort, NULL AS mark FROM seal_fittings
    UNION ALL
    SELECT p.build, p.part, coalesce(s.side, p.place, 'not said'), p.condition, NULL,
           p.mark || CASE WHEN s.side IS NULL THEN '' ELSE ', ' || s.side END
    FROM build_parts p
    LEFT JOIN (SELECT 'case side' AS side UNION ALL SELECT 'lid side') s ON p.place = 'both'
),
slots AS (
    SELECT c.diff, c.nth, n.build, n.part, n.place,
           min(coalesce(n.condition = 'new', 0)) AS new, max(n.sort) AS sort, max(n.mark) AS mark
    FROM noted n JOIN counts c ON c.build = n.build
    GROUP BY n.build, n.part, n.place
),
lives AS (
    SELECT *, lead(nth) OVER (PARTITION BY diff, part, place ORDER BY nth) AS next
    FROM (
        SELECT *, new OR lag(nth) OVER slot IS NULL OR coalesce(mark <> lag(mark) OVER slot, 0)
                   OR coalesce(sort <> lag(sort) OVER slot, 0) AS starts
        FROM slots WINDOW slot AS (PARTITION BY diff, part, place ORDER BY nth)
    ) WHERE starts
),
fitted AS (
    SELECT c.build, c.built_on, l.diff, l.part, l.place, l.mark, l.new, l.build AS since_build, l.nth AS first,
           count(*) OVER life AS uses, sum(c.runs) OVER life AS runs
    FROM lives l JOIN counts c ON c.diff = l.diff AND c.nth >= l.nth AND (l.next IS NULL OR c.nth < l.next)
    WINDOW life AS (PARTITION BY l.diff, l.part, l.place, l.nth ORDER BY c.nth)
),
pieces AS (
    SELECT *, sum(new) OVER (PARTITION BY part, mark ORDER BY start, diff, first) AS generation
    FROM (
        SELECT part, mark, diff, place, first, new, min(built_on) AS start, max(uses) AS uses, max(runs) AS runs
        FROM fitted WHERE mark IS NOT NULL GROUP BY diff, part, place, first
    )
),
before AS (
    SELECT part, diff, place, first, generation > 0 AS new,
           coalesce(sum(uses) OVER earlier, 0) AS uses, coalesce(sum(runs) OVER earlier, 0.0) AS runs
    FROM pieces
    WINDOW earlier AS (PARTITION BY part, mark, generation ORDER BY start, diff, first
                       ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
)
SELECT f.build, f.diff, f.part, f.place, f.mark, f.since_build,
       CASE WHEN coalesce(e.new, f.new) THEN 'yes' ELSE 'no' END AS from_new,
       f.uses + coalesce(e.uses, 0) AS uses, f.runs + coalesce(e.runs, 0.0) AS runs
FROM fitted f
LEFT JOIN before e ON e.diff = f.diff AND e.part = f.part AND e.place = f.place AND e.first = f.first;
CREATE VIEW masses AS SELECT one.id AS build, coalesce(one.mass_basis, 'not said') AS mass_basis, 0.0 AS runs, one.built_on AS day,
       coalesce(one.filled_mass_g, one.dry_mass_g + one.oil_mass_g) AS mass_g, 'filled' AS taken, one.scale, 0 AS step
FROM builds one WHERE coalesce(one.filled_mass_g, one.dry_mass_g + one.oil_mass_g) IS NOT NULL
UNION ALL
SELECT one.id, 'closed', 0.0, one.built_on, one.closed_mass_g, 'closed', one.scale, 1
FROM builds one WHERE one.closed_mass_g IS NOT NULL
UNION ALL
SELECT w.build, coalesce(w.mass_basis, 'not said'),
       coalesce(w.runs, (SELECT coalesce(sum(coalesce(r.runs, 1)), 0) FROM run_diffs d JOIN runs r ON r.id = d.run
                         WHERE d.build = w.build AND r.run_on <= w.weighed_on), 0.0),
       w.weighed_on, w.mass_g, 'weighed', w.scale, 2
FROM weighings w WHERE w.mass_g IS NOT NULL
UNION ALL
SELECT o.build, 'closed',
       coalesce((SELECT sum(coalesce(r.runs, 1)) FROM run_diffs d JOIN runs r ON r.id = d.run
                 WHERE d.build = o.build), 0.0),
       o.opened_on, o.closed_mass_g, 'before opening', o.scale, 3
FROM openings o WHERE o.closed_mass_g IS NOT NULL;
CREATE VIEW losses AS SELECT build, mass_basis, weighings, first_mass_g, last_mass_g, last_runs,
       round(first_mass_g - last_mass_g, 4) AS loss_g, first_variance + last_variance AS loss_variance
FROM (
    SELECT build, mass_basis,
           first_value(mass_g) OVER in_order AS first_mass_g,
           last_value(mass_g) OVER in_order AS last_mass_g,
           first_value(coalesce(scales.step_g, 0.01) * coalesce(scales.step_g, 0.01) / 12.0 + coalesce(scales.repeatability_g, 0.0) * coalesce(scales.repeatability_g, 0.0)) OVER in_order AS first_variance,
           last_value(coalesce(scales.step_g, 0.01) * coalesce(scales.step_g, 0.01) / 12.0 + coalesce(scales.repeatability_g, 0.0) * coalesce(scales.repeatability_g, 0.0)) OVER in_order AS last_variance,
           last_value(runs) OVER in_order AS last_runs,
           count(*) OVER (PARTITION BY build, mass_basis) AS weighings,
           row_number() OVER (PARTITION BY build, mass_basis ORDER BY runs, step, day) AS place
    FROM masses LEFT JOIN scales ON scales.id = scale
    WINDOW in_order AS (
        PARTITION BY build, mass_basis ORDER BY runs, step, day
        ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING
    )
) WHERE place = 1 AND weighings > 1;
CREATE VIEW shelf AS SELECT diff, label, build, build_label, built_on, position, fluid, viscosity_cst, viscosity_from, oil_mass_g,
       json_extract(loss, '$[0]') AS loss_g, json_extract(loss, '$[1]') AS mass_basis,
       json_extract(loss, '$[2]') AS weighed_at_runs, runs, hand_feel,
       CASE
           WHEN build IS NULL THEN 'not built'
           WHEN opened THEN 'open'
           WHEN ((json_extract(loss, '$[0]') - 0.10 * oil_mass_g) >= 0 AND (json_extract(loss, '$[0]') - 0.10 * oil_mass_g) * (json_extract(loss, '$[0]') - 0.10 * oil_mass_g) >= 4.0 * json_extract(loss, '$[3]')) THEN 'open it'
           WHEN ((json_extract(loss, '$[0]') - 0.10 * oil_mass_g) >= 0 OR (json_extract(loss, '$[0]') - 0.10 * oil_mass_g) * (json_extract(loss, '$[0]') - 0.10 * oil_mass_g) <= 4.0 * json_extract(loss, '$[3]')) THEN 'not told'
           WHEN ((json_extract(loss, '$[0]') - 0.05 * oil_mass_g) >= 0 AND (json_extract(loss, '$[0]') - 0.05 * oil_mass_g) * (json_extract(loss, '$[0]') - 0.05 * oil_mass_g) >= 4.0 * json_extract(loss, '$[3]')) THEN 'look at it'
           WHEN hand_feel IN ('gritty', 'notchy', 'tight spot', 'loose', 'slipping') THEN 'look at it'
           WHEN loss IS NULL OR ((json_extract(loss, '$[0]') - 0.05 * oil_mass_g) >= 0 OR (json_extract(loss, '$[0]') - 0.05 * oil_mass_g) * (json_extract(loss, '$[0]') - 0.05 * oil_mass_g) <= 4.0 * json_extract(loss, '$[3]')) THEN 'not told'
           ELSE 'ready'
       END AS word
FROM (
    SELECT d.id AS diff, d.label, b.id AS build, b.label AS build_label, b.built_on,
           coalesce((SELECT rd.position FROM run_diffs rd JOIN runs r ON r.id = rd.run WHERE rd.build = b.id
                     ORDER BY r.run_on DESC, r.day_order DESC LIMIT 1), d.usual_position) AS position,
           f.label AS fluid, coalesce(bo.viscosity_cst, b.viscosity_cst, f.viscosity_cst) AS viscosity_cst,
           CASE WHEN bo.viscosity_cst IS NOT NULL THEN 'own measurement of the bottle'
                WHEN b.viscosity_cst IS NOT NULL THEN coalesce(b.viscosity_from, 'the build')
                WHEN f.viscosity_cst IS NOT NULL THEN coalesce(f.viscosity_source, 'the fluid') END AS viscosity_from,
           coalesce(b.oil_mass_g, b.filled_mass_g - b.dry_mass_g) AS oil_mass_g,
           (
    SELECT json_array(loss_g, mass_basis, last_runs, loss_variance) FROM (
SELECT build, mass_basis, weighings, first_mass_g, last_mass_g, last_runs,
       round(first_mass_g - last_mass_g, 4) AS loss_g, first_variance + last_variance AS loss_variance
FROM (
    SELECT build, mass_basis,
           first_value(mass_g) OVER in_order AS first_mass_g,
           last_value(mass_g) OVER in_order AS last_mass_g,
           first_value(coalesce(scales.step_g, 0.01) * coalesce(scales.step_g, 0.01) / 12.0 + coalesce(scales.repeatability_g, 0.0) * coalesce(scales.repeatability_g, 0.0)) OVER in_order AS first_variance,
           last_value(coalesce(scales.step_g, 0.01) * coalesce(scales.step_g, 0.01) / 12.0 + coalesce(scales.repeatability_g, 0.0) * coalesce(scales.repeatability_g, 0.0)) OVER in_order AS last_variance,
           last_value(runs) OVER in_order AS last_runs,
           count(*) OVER (PARTITION BY build, mass_basis) AS weighings,
           row_number() OVER (PARTITION BY build, mass_basis ORDER BY runs, step, day) AS place
    FROM (
SELECT one.id AS build, coalesce(one.mass_basis, 'not said') AS mass_basis, 0.0 AS runs, one.built_on AS day,
       coalesce(one.filled_mass_g, one.dry_mass_g + one.oil_mass_g) AS mass_g, 'filled' AS taken, one.scale, 0 AS step
FROM builds one WHERE coalesce(one.filled_mass_g, one.dry_mass_g + one.oil_mass_g) IS NOT NULL AND one.id = b.id
UNION ALL
SELECT one.id, 'closed', 0.0, one.built_on, one.closed_mass_g, 'closed', one.scale, 1
FROM builds one WHERE one.closed_mass_g IS NOT NULL AND one.id = b.id
UNION ALL
SELECT w.build, coalesce(w.mass_basis, 'not said'),
       coalesce(w.runs, (SELECT coalesce(sum(coalesce(r.runs, 1)), 0) FROM run_diffs d JOIN runs r ON r.id = d.run
                         WHERE d.build = w.build AND r.run_on <= w.weighed_on), 0.0),
       w.weighed_on, w.mass_g, 'weighed', w.scale, 2
FROM weighings w WHERE w.mass_g IS NOT NULL AND w.build = b.id
UNION ALL
SELECT o.build, 'closed',
       coalesce((SELECT sum(coalesce(r.runs, 1)) FROM run_diffs d JOIN runs r ON r.id = d.run
                 WHERE d.build = o.build), 0.0),
       o.opened_on, o.closed_mass_g, 'before opening', o.scale, 3
FROM openings o WHERE o.closed_mass_g IS NOT NULL AND o.build = b.id
) LEFT JOIN scales ON scales.id = scale
    WINDOW in_order AS (
        PARTITION BY build, mass_basis ORDER BY runs, step, day
        ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING
    )
) WHERE place = 1 AND weighings > 1
)
    ORDER BY last_runs DESC, weighings DESC, mass_basis = 'not said', mass_basis LIMIT 1
) AS loss,
           coalesce((SELECT sum(coalesce(r.runs, 1)) FROM run_diffs rd JOIN runs r ON r.id = rd.run
                     WHERE rd.build = b.id), 0) AS runs,
           b.hand_feel,
           EXISTS (SELECT 1 FROM openings o WHERE o.build = b.id) AS opened
    FROM diffs d
    LEFT JOIN builds b ON b.id = (
        SELECT last.id FROM builds last WHERE last.diff = d.id
        ORDER BY last.built_on DESC, last.note_line DESC, last.created_at DESC, last.id DESC LIMIT 1)
    LEFT JOIN fluids f ON f.id = b.fluid
    LEFT JOIN bottles bo ON bo.id = b.bottle
)
ORDER BY label;
CREATE VIEW build_sheet AS SELECT b.id AS build, b.label, d.label AS diff, b.built_on, b.kind, p.name AS builder, f.label AS fluid,
       bo.lot AS bottle, coalesce(bo.viscosity_cst, b.viscosity_cst, f.viscosity_cst) AS viscosity_cst,
       b.dry_mass_g, b.oil_mass_g, b.filled_mass_g, b.closed_mass_g, b.mass_basis, b.squeeze_out, b.hand_feel,
       (SELECT sum(coalesce(r.runs, 1)) FROM run_diffs rd JOIN runs r ON r.id = rd.run WHERE rd.build = b.id) AS runs,
       json_extract((
    SELECT json_array(loss_g, mass_basis, last_runs, loss_variance) FROM (
SELECT build, mass_basis, weighings, first_mass_g, last_mass_g, last_runs,
       round(first_mass_g - last_mass_g, 4) AS loss_g, first_variance + last_variance AS loss_variance
FROM (
    SELECT build, mass_basis,
           first_value(mass_g) OVER in_order AS first_mass_g,
           last_value(mass_g) OVER in_order AS last_mass_g,
           first_value(coalesce(scales.step_g, 0.01) * coalesce(scales.step_g, 0.01) / 12.0 + coalesce(scales.repeatability_g, 0.0) * coalesce(scales.repeatability_g, 0.0)) OVER in_order AS first_variance,
           last_value(coalesce(scales.step_g, 0.01) * coalesce(scales.step_g, 0.01) / 12.0 + coalesce(scales.repeatability_g, 0.0) * coalesce(scales.repeatability_g, 0.0)) OVER in_order AS last_variance,
           last_value(runs) OVER in_order AS last_runs,
           count(*) OVER (PARTITION BY build, mass_basis) AS weighings,
           row_number() OVER (PARTITION BY build, mass_basis ORDER BY runs, step, day) AS place
    FROM (
SELECT one.id AS build, coalesce(one.mass_basis, 'not said') AS mass_basis, 0.0 AS runs, one.built_on AS day,
       coalesce(one.filled_mass_g, one.dry_mass_g + one.oil_mass_g) AS mass_g, 'filled' AS taken, one.scale, 0 AS step
FROM builds one WHERE coalesce(one.filled_mass_g, one.dry_mass_g + one.oil_mass_g) IS NOT NULL AND one.id = b.id
UNION ALL
SELECT one.id, 'closed', 0.0, one.built_on, one.closed_mass_g, 'closed', one.scale, 1
FROM builds one WHERE one.closed_mass_g IS NOT NULL AND one.id = b.id
UNION ALL
SELECT w.build, coalesce(w.mass_basis, 'not said'),
       coalesce(w.runs, (SELECT coalesce(sum(coalesce(r.runs, 1)), 0) FROM run_diffs d JOIN runs r ON r.id = d.run
                         WHERE d.build = w.build AND r.run_on <= w.weighed_on), 0.0),
       w.weighed_on, w.mass_g, 'weighed', w.scale, 2
FROM weighings w WHERE w.mass_g IS NOT NULL AND w.build = b.id
UNION ALL
SELECT o.build, 'closed',
       coalesce((SELECT sum(coalesce(r.runs, 1)) FROM run_diffs d JOIN runs r ON r.id = d.run
                 WHERE d.build = o.build), 0.0),
       o.opened_on, o.closed_mass_g, 'before opening', o.scale, 3
FROM openings o WHERE o.closed_mass_g IS NOT NULL AND o.build = b.id
) LEFT JOIN scales ON scales.id = scale
    WINDOW in_order AS (
        PARTITION BY build, mass_basis ORDER BY runs, step, day
        ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING
    )
) WHERE place = 1 AND weighings > 1
)
    ORDER BY last_runs DESC, weighings DESC, mass_basis = 'not said', mass_basis LIMIT 1
), '$[0]') AS loss_g,
       (SELECT o.opened_on FROM openings o WHERE o.build = b.id ORDER BY o.opened_on LIMIT 1) AS opened_on,
       (SELECT group_concat(told, '; ') FROM (
            SELECT calculator || ': ' || verdict AS told, row_number() OVER (
                       PARTITION BY calculator ORDER BY version DESC, calculated_at DESC, id DESC) AS place
            FROM calculations WHERE subject_table = 'builds' AND subject_id = b.id
        ) WHERE place = 1) AS verdicts,
       b.note
FROM builds b
JOIN diffs d ON d.id = b.diff
LEFT JOIN people p ON p.id = b.builder
LEFT JOIN fluids f ON f.id = b.fluid
LEFT JOIN bottles bo ON bo.id = b.bottle;
CREATE VIEW what_worked AS SELECT run_diff, run, run_on, day_order, venue, surface, grip, grip_trend, track_temp_c, air_temp_c, diff_temp_c,
       position, diff, build, build_label, fluid, viscosity_cst, viscosity_at_diff_temperature_cst, best_five_s,
       best_lap_s, forward_drive, side_bite, call, note, runs_after - runs AS runs_before,
       CASE
           WHEN trend_given IS NULL THEN 'not known to be full'
           WHEN json_extract(trend_found, '$.changed_before_runs') IS NULL AND runs_after <= json_extract(trend_given,
               '$.weighings[' || (json_array_length(trend_given, '$.weighings') - 1) || '].runs') THEN 'full'
           WHEN json_extract(trend_found, '$.changed_before_runs') IS NULL THEN 'not known to be full'
           WHEN runs_after <= json_extract(trend_found, '$.changed_after_runs') THEN 'full'
           WHEN runs_after - runs < json_extract(trend_found, '$.changed_before_runs') THEN 'doubtful'
           ELSE 'had lost oil'
       END AS doubtful
FROM (
    SELECT rd.id AS run_diff, r.id AS run, r.run_on, r.day_order, v.name AS venue, v.surface, r.grip, r.grip_trend,
           r.track_temp_c, r.air_temp_c, rd.diff_temp_c, rd.position, d.label AS diff, b.id AS build,
           b.label AS build_label, f.label AS fluid,
           coalesce(bo.viscosity_cst, b.viscosity_cst, f.viscosity_cst) AS viscosity_cst,
           json_extract(c.found, '$.viscosity_at_temperature_cst') AS viscosity_at_diff_temperature_cst,
           r.best_five_s, r.best_lap_s, r.forward_drive, r.side_bite, r.call, r.note,
           coalesce(r.runs, 1) AS runs,
           (SELECT sum(coalesce(q.runs, 1)) FROM run_diffs x JOIN runs q ON q.id = x.run
            WHERE x.build = rd.build AND (q.run_on, coalesce(q.day_order, 0), coalesce(q.note_line, 0), q.id)
                  <= (r.run_on, coalesce(r.day_order, 0), coalesce(r.note_line, 0), r.id)) AS runs_after,
           t.found AS trend_found, t.given AS trend_given
    FROM run_diffs rd
    JOIN runs r ON r.id = rd.run
    JOIN builds b ON b.id = rd.build
    JOIN diffs d ON d.id = b.diff
    LEFT JOIN venues v ON v.id = r.venue
    LEFT JOIN fluids f ON f.id = b.fluid
    LEFT JOIN bottles bo ON bo.id = b.bottle
    LEFT JOIN calculations c ON c.id = (
        SELECT id FROM calculations WHERE calculator = 'viscosity' AND subject_table = 'run_diffs'
               AND subject_id = rd.id ORDER BY version DESC, calculated_at DESC, id DESC LIMIT 1)
    LEFT JOIN calculations t ON t.id = (
        SELECT id FROM calculations WHERE calculator = 'leak-trend' AND subject_table = 'builds'
               AND subject_id = b.id ORDER BY version DESC, calculated_at DESC, id DESC LIMIT 1)
);
CREATE VIEW imported_notes AS SELECT nf.name AS file, b.note_line AS line, b.note_file AS note_file,
       b.built_on AS date,
       p.name AS builder, d.label AS diff, 
       b.dry_mass_g, b.oil_mass_g, coalesce(w.mass_g, b.filled_mass_g) AS total_mass_g, b.viscosity_cst,
       f.label AS fluid, v.name AS venue, rd.position, r.grip, r.track_temp_c, r.air_temp_c, rd.diff_temp_c, r.runs,
       r.call, coalesce(r.note, b.note, w.note) AS result_note,
       CASE WHEN r.id IS NULL THEN 'build' ELSE 'build and run' END AS made, b.id AS build, w.id AS weighing, r.id AS run

FROM builds b LEFT JOIN weighings w ON w.note_file = b.note_file AND w.note_line = b.note_line LEFT JOIN runs r ON r.note_file = b.note_file AND r.note_line = b.note_line LEFT JOIN run_diffs rd ON rd.run = r.id AND rd.note_file = r.note_file AND rd.note_line = r.note_line
JOIN note_files nf ON nf.id = b.note_file
LEFT JOIN people p ON p.id = b.builder
LEFT JOIN diffs d ON d.id = b.diff
LEFT JOIN fluids f ON f.id = b.fluid
LEFT JOIN venues v ON v.id = r.venue
WHERE b.note_file IS NOT NULL 
UNION ALL
SELECT nf.name AS file, w.note_line AS line, w.note_file AS note_file,
       w.weighed_on AS date,
       p.name AS builder, d.label AS diff, 
       b.dry_mass_g, b.oil_mass_g, coalesce(w.mass_g, b.filled_mass_g) AS total_mass_g, c.viscosity_cst,
       f.label AS fluid, v.name AS venue, rd.position, r.grip, r.track_temp_c, r.air_temp_c, rd.diff_temp_c, r.runs,
       r.call, coalesce(r.note, c.note, w.note) AS result_note,
       CASE WHEN r.id IS NULL THEN 'weighing' ELSE 'weighing and run' END AS made, b.id AS build, w.id AS weighing, r.id AS run

FROM weighings w LEFT JOIN builds b ON b.note_file = w.note_file AND b.note_line = w.note_line JOIN builds c ON c.id = w.build LEFT JOIN runs r ON r.note_file = w.note_file AND r.note_line = w.note_line LEFT JOIN run_diffs rd ON rd.run = r.id AND rd.note_file = r.note_file AND rd.note_line = r.note_line
JOIN note_files nf ON nf.id = w.note_file
LEFT JOIN people p ON p.id = w.person
LEFT JOIN diffs d ON d.id = c.diff
LEFT JOIN fluids f ON f.id = c.fluid
LEFT JOIN venues v ON v.id = r.venue
WHERE w.note_file IS NOT NULL AND b.id IS NULL
UNION ALL
SELECT nf.name AS file, r.note_line AS line, r.note_file AS note_file,
       r.run_on AS date,
       p.name AS builder, d.label AS diff, 
       b.dry_mass_g, b.oil_mass_g, coalesce(w.mass_g, b.filled_mass_g) AS total_mass_g, c.viscosity_cst,
       f.label AS fluid, v.name AS venue, rd.position, r.grip, r.track_temp_c, r.air_temp_c, rd.diff_temp_c, r.runs,
       r.call, coalesce(r.note, c.note, w.note) AS result_note,
       'run' AS made, b.id AS build, w.id AS weighing, r.id AS run

FROM runs r LEFT JOIN builds b ON b.note_file = r.note_file AND b.note_line = r.note_line LEFT JOIN weighings w ON w.note_file = r.note_file AND w.note_line = r.note_line LEFT JOIN run_diffs rd ON rd.run = r.id AND rd.note_file = r.note_file AND rd.note_line = r.note_line LEFT JOIN builds c ON c.id = rd.build
JOIN note_files nf ON nf.id = r.note_file
LEFT JOIN people p ON p.id = r.noted_by
LEFT JOIN diffs d ON d.id = c.diff
LEFT JOIN fluids f ON f.id = c.fluid
LEFT JOIN venues v ON v.id = r.venue
WHERE r.note_file IS NOT NULL AND b.id IS NULL AND w.id IS NULL;
CREATE VIEW "calc_leak_trend" AS SELECT id AS calculation, subject_table, subject_id, verdict, json_extract(found, '$.loss_g') AS "loss_g", json_extract(found, '$.loss_low_g') AS "loss_low_g", json_extract(found, '$.loss_high_g') AS "loss_high_g", json_extract(found, '$.smallest_loss_seen_g') AS "smallest_loss_seen_g", json_extract(found, '$.loss_share') AS "loss_share", json_extract(found, '$.changed_after_runs') AS "changed_after_runs", json_extract(found, '$.changed_before_runs') AS "changed_before_runs", json_extract(found, '$.loss_g_per_run') AS "loss_g_per_run", json_extract(found, '$.loss_low_g_per_run') AS "loss_low_g_per_run", json_extract(found, '$.loss_high_g_per_run') AS "loss_high_g_per_run", json_extract(found, '$.runs_to_limit') AS "runs_to_limit", json_extract(found, '$.runs_to_limit_low') AS "runs_to_limit_low", json_extract(found, '$.runs_to_limit_high') AS "runs_to_limit_high", json_extract(found, '$.runs_left') AS "runs_left", json_extract(given, '$.scale_step_g') AS "scale_step_g", json_extract(given, '$.repeatability_g') AS "repeatability_g", json_extract(given, '$.oil_mass_g') AS "oil_mass_g", json_extract(given, '$.caution_share') AS "caution_share", json_extract(given, '$.stop_share') AS "stop_share", version, calculated_at, calculated_by FROM latest_calculations WHERE calculator = 'leak-trend';
CREATE VIEW "calc_leak_trend_rows" AS SELECT c.id AS calculation, c.subject_table, c.subject_id, entry.key + 1 AS place, json_extract(entry.value, '$.from_runs') AS "from_runs", json_extract(entry.value, '$.to_runs') AS "to_runs", json_extract(entry.value, '$.loss_g') AS "loss_g", json_extract(entry.value, '$.loss_g_per_run') AS "loss_g_per_run", json_extract(entry.value, '$.uncertainty_g_per_run') AS "uncertainty_g_per_run", json_extract(entry.value, '$.detected') AS "detected" FROM latest_calculations c, json_each(c.rows) entry WHERE c.calculator = 'leak-trend';
CREATE VIEW "calc_viscosity" AS SELECT id AS calculation, subject_table, subject_id, verdict, json_extract(found, '$.viscosity_at_temperature_cst') AS "viscosity_at_temperature_cst", json_extract(found, '$.ratio_to_25') AS "ratio_to_25", json_extract(given, '$.viscosity_cst') AS "viscosity_cst", json_extract(given, '$.temperature_c') AS "temperature_c", json_extract(given, '$.temperature_coefficient_k') AS "temperature_coefficient_k", json_extract(given, '$.viscosity_temperature_coefficient') AS "viscosity_temperature_coefficient", json_extract(given, '$.other_viscosity_cst') AS "other_viscosity_cst", json_extract(given, '$.other_temperature_c') AS "other_temperature_c", version, calculated_at, calculated_by FROM latest_calculations WHERE calculator = 'viscosity';
CREATE VIEW "calc_fluid_ratio" AS SELECT id AS calculation, subject_table, subject_id, verdict, json_extract(found, '$.ratio') AS "ratio", json_extract(found, '$.ratio_low') AS "ratio_low", json_extract(found, '$.ratio_high') AS "ratio_high", json_extract(found, '$.thicker') AS "thicker", json_extract(given, '$.temperature_c') AS "temperature_c", json_extract(given, '$.time_uncertainty_s') AS "time_uncertainty_s", json_extract(given, '$.temperature_difference_k') AS "temperature_difference_k", version, calculated_at, calculated_by FROM latest_calculations WHERE calculator = 'fluid-ratio';
CREATE VIEW "calc_seal_swell" AS SELECT id AS calculation, subject_table, subject_id, verdict, json_extract(found, '$.volume_change_fraction') AS "volume_change_fraction", json_extract(found, '$.linear_change_fraction') AS "linear_change_fraction", json_extract(found, '$.squeeze_fraction') AS "squeeze_fraction", json_extract(found, '$.groove_fill_fraction') AS "groove_fill_fraction", json_extract(found, '$.uncertainty') AS "uncertainty", json_extract(found, '$.compression_set_fraction') AS "compression_set_fraction", json_extract(found, '$.method') AS "method", json_extract(given, '$.place') AS "place", json_extract(given, '$.outside_diameter_mm') AS "outside_diameter_mm", json_extract(given, '$.measured_outside_diameter_mm') AS "measured_outside_diameter_mm", json_extract(given, '$.inside_diameter_mm') AS "inside_diameter_mm", json_extract(given, '$.section_mm') AS "section_mm", json_extract(given, '$.measured_inside_diameter_mm') AS "measured_inside_diameter_mm", json_extract(given, '$.measured_section_mm') AS "measured_section_mm", json_extract(given, '$.air_mass_before_g') AS "air_mass_before_g", json_extract(given, '$.water_mass_before_g') AS "water_mass_before_g", json_extract(given, '$.air_mass_after_g') AS "air_mass_after_g", json_extract(given, '$.water_mass_after_g') AS "water_mass_after_g", json_extract(given, '$.mass_before_g') AS "mass_before_g", json_extract(given, '$.mass_after_g') AS "mass_after_g", json_extract(given, '$.rubber_density_g_cm3') AS "rubber_density_g_cm3", json_extract(given, '$.oil_density_g_cm3') AS "oil_density_g_cm3", json_extract(given, '$.groove_depth_mm') AS "groove_depth_mm", json_extract(given, '$.groove_width_mm') AS "groove_width_mm", json_extract(given, '$.material') AS "material", json_extract(given, '$.reading_step_mm') AS "reading_step_mm", json_extract(given, '$.scale_step_g') AS "scale_step_g", json_extract(given, '$.repeatability_g') AS "repeatability_g", version, calculated_at, calculated_by FROM latest_calculations WHERE calculator = 'seal-swell';
CREATE VIEW "calc_fill_target" AS SELECT id AS calculation, subject_table, subject_id, verdict, json_extract(found, '$.stop_mass_g') AS "stop_mass_g", json_extract(found, '$.oil_mass_g') AS "oil_mass_g", json_extract(found, '$.oil_volume_cm3') AS "oil_volume_cm3", json_extract(found, '$.fill_fraction') AS "fill_fraction", json_extract(found, '$.uncertainty_g') AS "uncertainty_g", json_extract(found, '$.stop_low_g') AS "stop_low_g", json_extract(found, '$.stop_high_g') AS "stop_high_g", json_extract(found, '$.remaining_g') AS "remaining_g", json_extract(given, '$.dry_mass_g') AS "dry_mass_g", json_extract(given, '$.oil_mass_g') AS "given_oil_mass_g", json_extract(given, '$.free_volume_cm3') AS "free_volume_cm3", json_extract(given, '$.fill_fraction') AS "given_fill_fraction", json_extract(given, '$.viscosity_cst') AS "viscosity_cst", json_extract(given, '$.density_g_cm3') AS "density_g_cm3", json_extract(given, '$.oil_temperature_c') AS "oil_temperature_c", json_extract(given, '$.scale_step_g') AS "scale_step_g", json_extract(given, '$.repeatability_g') AS "repeatability_g", json_extract(given, '$.scale_error_g') AS "scale_error_g", json_extract(given, '$.reading_g') AS "reading_g", json_extract(given, '$.last_dry_mass_g') AS "last_dry_mass_g", version, calculated_at, calculated_by FROM latest_calculations WHERE calculator = 'fill-target';
CREATE VIEW "calc_blend" AS SELECT id AS calculation, subject_table, subject_id, verdict, json_extract(found, '$.viscosity_blend_cst') AS "viscosity_blend_cst", json_extract(found, '$.low_cst') AS "low_cst", json_extract(found, '$.high_cst') AS "high_cst", json_extract(given, '$.target_viscosity_cst') AS "target_viscosity_cst", json_extract(given, '$.blend_mass_g') AS "blend_mass_g", version, calculated_at, calculated_by FROM latest_calculations WHERE calculator = 'blend';
CREATE VIEW "calc_blend_rows" AS SELECT c.id AS calculation, c.subject_table, c.subject_id, entry.key + 1 AS place, json_extract(entry.value, '$.viscosity_cst') AS "viscosity_cst", json_extract(entry.value, '$.mass_g') AS "mass_g", json_extract(entry.value, '$.mass_fraction') AS "mass_fraction" FROM latest_calculations c, json_each(c.rows) entry WHERE c.calculator = 'blend';
