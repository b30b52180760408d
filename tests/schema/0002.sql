PRAGMA application_id = 1651928171;
PRAGMA user_version = 2;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
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
CREATE VIRTUAL TABLE venues_search USING fts5("name", "note", content='venues', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE diffs_search USING fts5("label", "note", content='diffs', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE fluids_search USING fts5("label", "note", content='fluids', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE bottles_search USING fts5("lot", "note", content='bottles', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE ideas_search USING fts5("text", content='ideas', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE builds_search USING fts5("label", "note", content='builds', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE weighings_search USING fts5("note", content='weighings', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE openings_search USING fts5("note", content='openings', tokenize='unicode61 remove_diacritics 2');
CREATE VIRTUAL TABLE runs_search USING fts5("event", "changed", "happened", "note", content='runs', tokenize='unicode61 remove_diacritics 2');
CREATE INDEX builds_by_diff_built_on_note_line_created_at_id ON builds ("diff", "built_on", "note_line", "created_at", "id");
CREATE INDEX calculations_by_calculator_verdict ON calculations ("calculator", "verdict");
INSERT INTO diffs VALUES ('d1', 'rear-a', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, '2026-05-04T10:00:00.000Z', '2026-05-04T10:00:00.000Z', 'ana');
INSERT INTO fluids VALUES ('f1', 'house 7k', 'oil', NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, '2026-05-04T10:00:00.000Z', '2026-05-04T10:00:00.000Z', 'ana');
INSERT INTO builds VALUES ('b1', 'rear-a/1', 'd1', '2026-05-03', NULL, NULL, NULL, NULL, 'f1', NULL, NULL, NULL, 9.52, NULL, 1.5, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 'it weeps', NULL, NULL, NULL, '2026-05-04T10:00:00.000Z', '2026-05-04T10:00:00.000Z', 'ana');
INSERT INTO history VALUES (1, 'builds', 'b1', 'changed', '{"id":"b1","label":"rear-a/1","diff":"d1","built_on":"2026-05-03","kind":null,"builder":null,"like":null,"tries":null,"fluid":"f1","bottle":null,"viscosity_cst":null,"viscosity_from":null,"dry_mass_g":9.52,"target_oil_mass_g":null,"oil_mass_g":1.5,"filled_mass_g":null,"closed_mass_g":null,"mass_basis":null,"parts_on_pan":null,"scale":null,"squeeze_out":null,"degassing":null,"grease":null,"gasket":null,"screw_torque_nm":null,"hand_feel":null,"against_last":null,"note":null,"entered":null,"note_file":null,"note_line":null,"created_at":"2026-05-04T10:00:00.000Z","updated_at":"2026-05-04T10:00:00.000Z","updated_by":"ana"}', '49b0a2a68d5e0e3a0723fbd0769b29942567a48f45a7b97aba813036ed879d54', '2026-11-25T04:37:36.568Z', 'ana');
INSERT INTO _sqlite_migrations VALUES (1, 'bevelbook', '0001', '2026-11-25 04:37:36.513055+00:00');
INSERT INTO _sqlite_migrations VALUES (2, 'bevelbook', '0002', '2026-11-25 04:37:36.565834+00:00');
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
INSERT INTO diffs_search(diffs_search) VALUES ('rebuild');
INSERT INTO fluids_search(fluids_search) VALUES ('rebuild');
INSERT INTO builds_search(builds_search) VALUES ('rebuild');
