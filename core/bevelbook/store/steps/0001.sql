-- the first schema
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

CREATE INDEX builds_by_diff ON builds ("diff");

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

CREATE INDEX calculations_by_calculator ON calculations ("calculator");

CREATE VIRTUAL TABLE venues_search USING fts5("name", "note", content='venues', tokenize='unicode61 remove_diacritics 2');

CREATE VIRTUAL TABLE diffs_search USING fts5("label", "note", content='diffs', tokenize='unicode61 remove_diacritics 2');

CREATE VIRTUAL TABLE fluids_search USING fts5("label", "note", content='fluids', tokenize='unicode61 remove_diacritics 2');

CREATE VIRTUAL TABLE bottles_search USING fts5("lot", "note", content='bottles', tokenize='unicode61 remove_diacritics 2');

CREATE VIRTUAL TABLE ideas_search USING fts5("text", content='ideas', tokenize='unicode61 remove_diacritics 2');

CREATE VIRTUAL TABLE builds_search USING fts5("label", "note", content='builds', tokenize='unicode61 remove_diacritics 2');

CREATE VIRTUAL TABLE weighings_search USING fts5("note", content='weighings', tokenize='unicode61 remove_diacritics 2');

CREATE VIRTUAL TABLE openings_search USING fts5("note", content='openings', tokenize='unicode61 remove_diacritics 2');

CREATE VIRTUAL TABLE runs_search USING fts5("event", "changed", "happened", "note", content='runs', tokenize='unicode61 remove_diacritics 2');
