-- events to prepare for and the cars that go there, runs of events, parts in stock with deliveries and kits, bottles checked, plans that were kept, minutes of more jobs with their waiting, the runs at which the limit of oil lost is reached, numbers within bounds on both sides, no index of file and line where notes make no records
CREATE TABLE events (
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
    "venue" TEXT REFERENCES venues(id),
    "first_on" TEXT CHECK ("first_on" IS date("first_on", '+0 days')),
    "last_on" TEXT CHECK ("last_on" IS date("last_on", '+0 days')),
    "air_low_c" REAL CHECK ("air_low_c" >= -60 AND "air_low_c" <= 70),
    "air_high_c" REAL CHECK ("air_high_c" >= -60 AND "air_high_c" <= 70),
    "track_low_c" REAL CHECK ("track_low_c" >= -60 AND "track_low_c" <= 100),
    "track_high_c" REAL CHECK ("track_high_c" >= -60 AND "track_high_c" <= 100),
    "grip" TEXT CHECK ("grip" IS NULL OR "grip" = 'low' OR "grip" = 'medium' OR "grip" = 'high'),
    "runs_per_car" REAL CHECK ("runs_per_car" > 0 AND "runs_per_car" <= 1000000000000),
    "note" TEXT
) STRICT;

CREATE INDEX events_by_venue ON events ("venue") WHERE "venue" IS NOT NULL;

CREATE INDEX events_by_first_on ON events ("first_on");

CREATE INDEX events_by_note_file_note_line ON events ("note_file", "note_line");

CREATE INDEX events_impossible ON events (id) WHERE ("air_low_c" <> 0 AND "air_low_c" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "air_low_c" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("air_high_c" <> 0 AND "air_high_c" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "air_high_c" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("track_low_c" <> 0 AND "track_low_c" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "track_low_c" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("track_high_c" <> 0 AND "track_high_c" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "track_high_c" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("runs_per_car" <> 0 AND "runs_per_car" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE event_cars (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "event" TEXT NOT NULL REFERENCES events(id),
    "car" TEXT NOT NULL REFERENCES cars(id),
    "runs" REAL CHECK ("runs" > 0 AND "runs" <= 1000000000000),
    "note" TEXT
) STRICT;

CREATE INDEX event_cars_by_event ON event_cars ("event");

CREATE INDEX event_cars_by_car ON event_cars ("car");

CREATE INDEX event_cars_impossible ON event_cars (id) WHERE ("runs" <> 0 AND "runs" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE stock_parts (
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
    "part" TEXT NOT NULL CHECK ("part" = 'seal' OR "part" = 'gasket' OR "part" = 'outdrive' OR "part" = 'cross pin' OR "part" = 'side gear' OR "part" = 'small gear' OR "part" = 'bearing' OR "part" = 'screw' OR "part" = 'shim' OR "part" = 'other'),
    "seal" TEXT REFERENCES seals(id),
    "side" TEXT CHECK ("side" IS NULL OR "side" = 'case side' OR "side" = 'lid side'),
    "thickness_mm" REAL CHECK ("thickness_mm" <= 5 AND "thickness_mm" > 0),
    "bore_mm" REAL CHECK ("bore_mm" > 0 AND "bore_mm" <= 1000000000000),
    "outside_diameter_mm" REAL CHECK ("outside_diameter_mm" > 0 AND "outside_diameter_mm" <= 1000000000000),
    "least" INTEGER CHECK ("least" >= 0 AND "least" <= 1000000000000),
    "note" TEXT
) STRICT;

CREATE INDEX stock_parts_by_seal ON stock_parts ("seal") WHERE "seal" IS NOT NULL;

CREATE INDEX stock_parts_impossible ON stock_parts (id) WHERE ("thickness_mm" <> 0 AND "thickness_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("bore_mm" <> 0 AND "bore_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("outside_diameter_mm" <> 0 AND "outside_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("least" <> 0 AND "least" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE stock_changes (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "stock_part" TEXT NOT NULL REFERENCES stock_parts(id),
    "what" TEXT NOT NULL CHECK ("what" = 'counted' OR "what" = 'delivered' OR "what" = 'taken out'),
    "pieces" INTEGER NOT NULL CHECK ("pieces" >= 0 AND "pieces" <= 100000),
    "changed_on" TEXT NOT NULL CHECK ("changed_on" IS date("changed_on", '+0 days')),
    "kit" TEXT,
    "person" TEXT REFERENCES people(id),
    "note" TEXT
) STRICT;

CREATE INDEX stock_changes_by_stock_part ON stock_changes ("stock_part");

CREATE INDEX stock_changes_by_changed_on ON stock_changes ("changed_on");

CREATE INDEX stock_changes_impossible ON stock_changes (id) WHERE ("pieces" <> 0 AND "pieces" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE kit_parts (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "kit" TEXT NOT NULL,
    "stock_part" TEXT NOT NULL REFERENCES stock_parts(id),
    "pieces" INTEGER CHECK ("pieces" >= 1 AND "pieces" <= 1000),
    "note" TEXT
) STRICT;

CREATE INDEX kit_parts_by_stock_part ON kit_parts ("stock_part");

CREATE INDEX kit_parts_impossible ON kit_parts (id) WHERE ("pieces" <> 0 AND "pieces" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE bottle_checks (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "bottle" TEXT NOT NULL REFERENCES bottles(id),
    "checked_on" TEXT NOT NULL CHECK ("checked_on" IS date("checked_on", '+0 days')),
    "mass_g" REAL CHECK ("mass_g" > 0 AND "mass_g" <= 1000000000000),
    "level" TEXT CHECK ("level" IS NULL OR "level" = 'full' OR "level" = 'about half' OR "level" = 'nearly empty'),
    "scale" TEXT REFERENCES scales(id),
    "person" TEXT REFERENCES people(id),
    "note" TEXT
) STRICT;

CREATE INDEX bottle_checks_by_bottle ON bottle_checks ("bottle");

CREATE INDEX bottle_checks_by_scale ON bottle_checks ("scale") WHERE "scale" IS NOT NULL;

CREATE INDEX bottle_checks_by_checked_on ON bottle_checks ("checked_on");

CREATE INDEX bottle_checks_impossible ON bottle_checks (id) WHERE ("mass_g" <> 0 AND "mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE plans (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "event" TEXT REFERENCES events(id),
    "made_at" TEXT NOT NULL,
    "person" TEXT REFERENCES people(id),
    "said" TEXT NOT NULL,
    "note" TEXT
) STRICT;

CREATE INDEX plans_by_event ON plans ("event") WHERE "event" IS NOT NULL;

CREATE TABLE plan_lines (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "plan" TEXT NOT NULL REFERENCES plans(id),
    "place" INTEGER NOT NULL CHECK ("place" >= 1 AND "place" <= 1000000000000),
    "diff" TEXT NOT NULL REFERENCES diffs(id),
    "build" TEXT REFERENCES builds(id),
    "car" TEXT REFERENCES cars(id),
    "position" TEXT CHECK ("position" IS NULL OR "position" = 'front' OR "position" = 'centre' OR "position" = 'rear'),
    "act" TEXT NOT NULL CHECK ("act" = 'leave it' OR "act" = 'unclear' OR "act" = 'weigh it' OR "act" = 'look at it' OR "act" = 'change the oil' OR "act" = 'rebuild' OR "act" = 'build a second one'),
    "why" TEXT,
    "oil" TEXT,
    "runs_planned" REAL CHECK ("runs_planned" >= 0 AND "runs_planned" <= 1000000000000)
) STRICT;

CREATE INDEX plan_lines_by_plan ON plan_lines ("plan");

CREATE INDEX plan_lines_by_diff ON plan_lines ("diff");

CREATE INDEX plan_lines_by_build ON plan_lines ("build") WHERE "build" IS NOT NULL;

CREATE INDEX plan_lines_by_car ON plan_lines ("car") WHERE "car" IS NOT NULL;

CREATE INDEX plan_lines_impossible ON plan_lines (id) WHERE ("place" <> 0 AND "place" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("runs_planned" <> 0 AND "runs_planned" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE INDEX venues_impossible ON venues (id) WHERE ("altitude_m" <> 0 AND "altitude_m" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "altitude_m" NOT BETWEEN -1000000000000.0 AND -1e-12);

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
    "step_g" REAL NOT NULL CHECK ("step_g" > 0 AND "step_g" <= 1000000000000),
    "repeatability_g" REAL CHECK ("repeatability_g" >= 0 AND "repeatability_g" <= 1000000000000),
    "day_to_day_g" REAL CHECK ("day_to_day_g" >= 0 AND "day_to_day_g" <= 1000000000000),
    "error_bound_g" REAL CHECK ("error_bound_g" >= 0 AND "error_bound_g" <= 1000000000000),
    "checked_on" TEXT CHECK ("checked_on" IS date("checked_on", '+0 days')),
    "note" TEXT
) STRICT;

INSERT INTO scales_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "step_g", "repeatability_g", "day_to_day_g", "error_bound_g", "checked_on", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "step_g", "repeatability_g", "day_to_day_g", "error_bound_g", "checked_on", "note" FROM scales ORDER BY rowid;

DROP TABLE scales;

ALTER TABLE scales_new RENAME TO scales;

CREATE INDEX scales_by_note_file_note_line ON scales ("note_file", "note_line");

CREATE INDEX scales_impossible ON scales (id) WHERE ("step_g" <> 0 AND "step_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("repeatability_g" <> 0 AND "repeatability_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("day_to_day_g" <> 0 AND "day_to_day_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("error_bound_g" <> 0 AND "error_bound_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE scale_readings_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "scale" TEXT NOT NULL REFERENCES scales(id),
    "read_on" TEXT NOT NULL CHECK ("read_on" IS date("read_on", '+0 days')),
    "thing" TEXT NOT NULL,
    "place" INTEGER NOT NULL CHECK ("place" >= 1 AND "place" <= 1000000000000),
    "mass_g" REAL NOT NULL CHECK ("mass_g" >= 0 AND "mass_g" <= 1000000000000),
    "note" TEXT
) STRICT;

INSERT INTO scale_readings_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "scale", "read_on", "thing", "place", "mass_g", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "scale", "read_on", "thing", "place", "mass_g", "note" FROM scale_readings ORDER BY rowid;

DROP TABLE scale_readings;

ALTER TABLE scale_readings_new RENAME TO scale_readings;

CREATE INDEX scale_readings_by_scale ON scale_readings ("scale");

CREATE INDEX scale_readings_by_read_on ON scale_readings ("read_on");

CREATE INDEX scale_readings_impossible ON scale_readings (id) WHERE ("place" <> 0 AND "place" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("mass_g" <> 0 AND "mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

DROP INDEX seals_by_note_file_note_line;

CREATE INDEX seals_impossible ON seals (id) WHERE ("inside_diameter_mm" <> 0 AND "inside_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("section_mm" <> 0 AND "section_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("outside_diameter_mm" <> 0 AND "outside_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("hardness" <> 0 AND "hardness" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("groove_depth_mm" <> 0 AND "groove_depth_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("groove_width_mm" <> 0 AND "groove_width_mm" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "mark" TEXT,
    "usual_position" TEXT CHECK ("usual_position" IS NULL OR "usual_position" = 'front' OR "usual_position" = 'centre' OR "usual_position" = 'rear'),
    "housing_material" TEXT,
    "housing_mass_g" REAL CHECK ("housing_mass_g" > 0 AND "housing_mass_g" <= 1000000000000),
    "free_volume_cm3" REAL CHECK ("free_volume_cm3" > 0 AND "free_volume_cm3" <= 1000000000000),
    "free_volume_from" TEXT,
    "screw_count" INTEGER CHECK ("screw_count" >= 2 AND "screw_count" <= 32),
    "screw_size" TEXT,
    "screw_hole" TEXT CHECK ("screw_hole" IS NULL OR "screw_hole" = 'blind' OR "screw_hole" = 'through'),
    "shaft_diameter_mm" REAL CHECK ("shaft_diameter_mm" > 0 AND "shaft_diameter_mm" <= 1000000000000),
    "joint_seal" TEXT REFERENCES seals(id),
    "shaft_seal" TEXT REFERENCES seals(id),
    "usual_dry_mass_g" REAL CHECK ("usual_dry_mass_g" > 0 AND "usual_dry_mass_g" <= 1000000000000),
    "usual_lid_mass_g" REAL CHECK ("usual_lid_mass_g" > 0 AND "usual_lid_mass_g" <= 1000000000000),
    "note" TEXT
) STRICT;

INSERT INTO diffs_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "mark", "usual_position", "housing_material", "housing_mass_g", "free_volume_cm3", "free_volume_from", "screw_count", "screw_size", "screw_hole", "shaft_diameter_mm", "joint_seal", "shaft_seal", "usual_dry_mass_g", "usual_lid_mass_g", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "mark", "usual_position", "housing_material", "housing_mass_g", "free_volume_cm3", "free_volume_from", "screw_count", "screw_size", "screw_hole", "shaft_diameter_mm", "joint_seal", "shaft_seal", "usual_dry_mass_g", "usual_lid_mass_g", "note" FROM diffs ORDER BY rowid;

DROP TABLE diffs;

ALTER TABLE diffs_new RENAME TO diffs;

CREATE INDEX diffs_by_joint_seal ON diffs ("joint_seal") WHERE "joint_seal" IS NOT NULL;

CREATE INDEX diffs_by_shaft_seal ON diffs ("shaft_seal") WHERE "shaft_seal" IS NOT NULL;

CREATE INDEX diffs_by_note_file_note_line ON diffs ("note_file", "note_line");

CREATE INDEX diffs_impossible ON diffs (id) WHERE ("housing_mass_g" <> 0 AND "housing_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("free_volume_cm3" <> 0 AND "free_volume_cm3" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("screw_count" <> 0 AND "screw_count" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("shaft_diameter_mm" <> 0 AND "shaft_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("usual_dry_mass_g" <> 0 AND "usual_dry_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("usual_lid_mass_g" <> 0 AND "usual_lid_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "viscosity_cst" REAL CHECK ("viscosity_cst" > 0 AND "viscosity_cst" <= 1000000000000),
    "viscosity_source" TEXT,
    "density_g_cm3" REAL CHECK ("density_g_cm3" >= 0.5 AND "density_g_cm3" <= 2),
    "expansion_per_k" REAL CHECK ("expansion_per_k" > 0 AND "expansion_per_k" < 0.01),
    "note" TEXT
) STRICT;

INSERT INTO fluids_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "medium", "viscosity_cst", "viscosity_source", "density_g_cm3", "expansion_per_k", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "medium", "viscosity_cst", "viscosity_source", "density_g_cm3", "expansion_per_k", "note" FROM fluids ORDER BY rowid;

DROP TABLE fluids;

ALTER TABLE fluids_new RENAME TO fluids;

CREATE INDEX fluids_by_note_file_note_line ON fluids ("note_file", "note_line");

CREATE INDEX fluids_impossible ON fluids (id) WHERE ("viscosity_cst" <> 0 AND "viscosity_cst" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("density_g_cm3" <> 0 AND "density_g_cm3" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("expansion_per_k" <> 0 AND "expansion_per_k" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "viscosity_cst" REAL CHECK ("viscosity_cst" > 0 AND "viscosity_cst" <= 1000000000000),
    "viscosity_uncertainty_cst" REAL CHECK ("viscosity_uncertainty_cst" >= 0 AND "viscosity_uncertainty_cst" <= 1000000000000),
    "measured_on" TEXT CHECK ("measured_on" IS date("measured_on", '+0 days')),
    "method" TEXT,
    "density_g_cm3" REAL CHECK ("density_g_cm3" >= 0.5 AND "density_g_cm3" <= 2),
    "full_mass_g" REAL CHECK ("full_mass_g" > 0 AND "full_mass_g" <= 1000000000000),
    "empty_mass_g" REAL CHECK ("empty_mass_g" > 0 AND "empty_mass_g" <= 1000000000000),
    "empty" TEXT CHECK ("empty" IS NULL OR "empty" = 'yes' OR "empty" = 'no'),
    "note" TEXT
) STRICT;

INSERT INTO bottles_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "fluid", "lot", "opened_on", "viscosity_cst", "viscosity_uncertainty_cst", "measured_on", "method", "density_g_cm3", "full_mass_g", "empty_mass_g", "empty", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "fluid", "lot", "opened_on", "viscosity_cst", "viscosity_uncertainty_cst", "measured_on", "method", "density_g_cm3", "full_mass_g", "empty_mass_g", "empty", "note" FROM bottles ORDER BY rowid;

DROP TABLE bottles;

ALTER TABLE bottles_new RENAME TO bottles;

CREATE INDEX bottles_by_fluid ON bottles ("fluid");

CREATE INDEX bottles_by_opened_on ON bottles ("opened_on");

CREATE INDEX bottles_by_note_file_note_line ON bottles ("note_file", "note_line");

CREATE INDEX bottles_impossible ON bottles (id) WHERE ("viscosity_cst" <> 0 AND "viscosity_cst" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("viscosity_uncertainty_cst" <> 0 AND "viscosity_uncertainty_cst" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("density_g_cm3" <> 0 AND "density_g_cm3" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("full_mass_g" <> 0 AND "full_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("empty_mass_g" <> 0 AND "empty_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "ratio" REAL CHECK ("ratio" >= 1 AND "ratio" <= 1000000000000),
    "temperature_c" REAL CHECK ("temperature_c" >= -50 AND "temperature_c" <= 150),
    "compared_on" TEXT CHECK ("compared_on" IS date("compared_on", '+0 days')),
    "note" TEXT
) STRICT;

INSERT INTO fluid_comparisons_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "thicker", "thinner", "ratio", "temperature_c", "compared_on", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "thicker", "thinner", "ratio", "temperature_c", "compared_on", "note" FROM fluid_comparisons ORDER BY rowid;

DROP TABLE fluid_comparisons;

ALTER TABLE fluid_comparisons_new RENAME TO fluid_comparisons;

CREATE INDEX fluid_comparisons_by_thicker ON fluid_comparisons ("thicker");

CREATE INDEX fluid_comparisons_by_thinner ON fluid_comparisons ("thinner");

CREATE INDEX fluid_comparisons_by_compared_on ON fluid_comparisons ("compared_on");

CREATE INDEX fluid_comparisons_impossible ON fluid_comparisons (id) WHERE ("ratio" <> 0 AND "ratio" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("temperature_c" <> 0 AND "temperature_c" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "temperature_c" NOT BETWEEN -1000000000000.0 AND -1e-12);

DROP INDEX ideas_by_note_file_note_line;

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
    "washed" TEXT CHECK ("washed" IS NULL OR "washed" = 'yes' OR "washed" = 'no'),
    "builder" TEXT REFERENCES people(id),
    "like" TEXT REFERENCES builds(id),
    "tries" TEXT REFERENCES ideas(id),
    "fluid" TEXT REFERENCES fluids(id),
    "bottle" TEXT REFERENCES bottles(id),
    "viscosity_cst" REAL CHECK ("viscosity_cst" > 0 AND "viscosity_cst" <= 1000000000000),
    "viscosity_from" TEXT CHECK ("viscosity_from" IS NULL OR "viscosity_from" = 'note' OR "viscosity_from" = 'own measurement' OR "viscosity_from" = 'label''s source' OR "viscosity_from" = 'blend'),
    "dry_mass_g" REAL CHECK ("dry_mass_g" >= 0 AND "dry_mass_g" <= 1000000000000),
    "target_oil_mass_g" REAL CHECK ("target_oil_mass_g" > 0 AND "target_oil_mass_g" <= 1000000000000),
    "oil_mass_g" REAL CHECK ("oil_mass_g" >= 0 AND "oil_mass_g" <= 1000000000000),
    "filled_mass_g" REAL CHECK ("filled_mass_g" >= 0 AND "filled_mass_g" <= 1000000000000),
    "closed_mass_g" REAL CHECK ("closed_mass_g" >= 0 AND "closed_mass_g" <= 1000000000000),
    "sister_mass_g" REAL CHECK ("sister_mass_g" > 0 AND "sister_mass_g" <= 1000000000000),
    "mass_basis" TEXT CHECK ("mass_basis" IS NULL OR "mass_basis" = 'all parts on the pan' OR "mass_basis" = 'open half' OR "mass_basis" = 'closed' OR "mass_basis" = 'closed with bearings and crown gear'),
    "parts_on_pan" TEXT,
    "scale" TEXT REFERENCES scales(id),
    "squeeze_out" TEXT CHECK ("squeeze_out" IS NULL OR "squeeze_out" = 'none' OR "squeeze_out" = 'trace' OR "squeeze_out" = 'runs out'),
    "degassing" TEXT,
    "grease" TEXT,
    "gasket" TEXT,
    "seals" TEXT,
    "screw_torque_nm" REAL CHECK ("screw_torque_nm" > 0 AND "screw_torque_nm" < 10),
    "hand_feel" TEXT CHECK ("hand_feel" IS NULL OR "hand_feel" = 'smooth' OR "hand_feel" = 'gritty' OR "hand_feel" = 'notchy' OR "hand_feel" = 'tight spot' OR "hand_feel" = 'stiff all round' OR "hand_feel" = 'loose' OR "hand_feel" = 'slipping'),
    "against_last" TEXT CHECK ("against_last" IS NULL OR "against_last" = 'thinner' OR "against_last" = 'same' OR "against_last" = 'thicker'),
    "paper_wet_at" TEXT CHECK ("paper_wet_at" IS NULL OR "paper_wet_at" = 'joint' OR "paper_wet_at" = 'case-side shaft' OR "paper_wet_at" = 'lid-side shaft' OR "paper_wet_at" = 'both shafts' OR "paper_wet_at" = 'screw hole'),
    "note" TEXT,
    "day_order" INTEGER CHECK ("day_order" >= 1 AND "day_order" <= 1000000000000)
) STRICT;

INSERT INTO builds_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "diff", "built_on", "kind", "washed", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "sister_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "seals", "screw_torque_nm", "hand_feel", "against_last", "paper_wet_at", "note", "day_order") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "diff", "built_on", "kind", "washed", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "sister_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "seals", "screw_torque_nm", "hand_feel", "against_last", "paper_wet_at", "note", "day_order" FROM builds ORDER BY rowid;

DROP TABLE builds;

ALTER TABLE builds_new RENAME TO builds;

CREATE INDEX builds_by_diff_built_on_day_order_created_at_note_line_id ON builds ("diff", "built_on", "day_order", "created_at", "note_line", "id");

CREATE INDEX builds_by_like ON builds ("like") WHERE "like" IS NOT NULL;

CREATE INDEX builds_by_tries ON builds ("tries") WHERE "tries" IS NOT NULL;

CREATE INDEX builds_by_fluid_built_on ON builds ("fluid", "built_on") WHERE "fluid" IS NOT NULL;

CREATE INDEX builds_by_bottle ON builds ("bottle") WHERE "bottle" IS NOT NULL;

CREATE INDEX builds_by_scale ON builds ("scale") WHERE "scale" IS NOT NULL;

CREATE INDEX builds_by_built_on ON builds ("built_on");

CREATE INDEX builds_by_note_file_note_line ON builds ("note_file", "note_line");

CREATE INDEX builds_by_label ON builds ("label" COLLATE NOCASE);

CREATE INDEX builds_impossible ON builds (id) WHERE ("viscosity_cst" <> 0 AND "viscosity_cst" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("dry_mass_g" <> 0 AND "dry_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("target_oil_mass_g" <> 0 AND "target_oil_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("oil_mass_g" <> 0 AND "oil_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("filled_mass_g" <> 0 AND "filled_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("closed_mass_g" <> 0 AND "closed_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("sister_mass_g" <> 0 AND "sister_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("screw_torque_nm" <> 0 AND "screw_torque_nm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("day_order" <> 0 AND "day_order" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "viscosity_cst" REAL NOT NULL CHECK ("viscosity_cst" > 0 AND "viscosity_cst" <= 1000000000000),
    "mass_g" REAL NOT NULL CHECK ("mass_g" > 0 AND "mass_g" <= 1000000000000)
) STRICT;

INSERT INTO blend_parts_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "fluid", "bottle", "viscosity_cst", "mass_g") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "fluid", "bottle", "viscosity_cst", "mass_g" FROM blend_parts ORDER BY rowid;

DROP TABLE blend_parts;

ALTER TABLE blend_parts_new RENAME TO blend_parts;

CREATE INDEX blend_parts_by_build ON blend_parts ("build");

CREATE INDEX blend_parts_by_fluid ON blend_parts ("fluid") WHERE "fluid" IS NOT NULL;

CREATE INDEX blend_parts_by_bottle ON blend_parts ("bottle") WHERE "bottle" IS NOT NULL;

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
    "measured_outside_diameter_mm" REAL CHECK ("measured_outside_diameter_mm" > 0 AND "measured_outside_diameter_mm" <= 1000000000000),
    "measured_inside_diameter_mm" REAL CHECK ("measured_inside_diameter_mm" > 0 AND "measured_inside_diameter_mm" <= 1000000000000),
    "measured_section_mm" REAL CHECK ("measured_section_mm" > 0 AND "measured_section_mm" <= 1000000000000),
    "state" TEXT CHECK ("state" IS NULL OR "state" = 'ok' OR "state" = 'flattened' OR "state" = 'nicked' OR "state" = 'swollen' OR "state" = 'hard' OR "state" = 'missing'),
    "note" TEXT
) STRICT;

INSERT INTO seal_fittings_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "place", "seal", "condition", "measured_outside_diameter_mm", "measured_inside_diameter_mm", "measured_section_mm", "state", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "place", "seal", "condition", "measured_outside_diameter_mm", "measured_inside_diameter_mm", "measured_section_mm", "state", "note" FROM seal_fittings ORDER BY rowid;

DROP TABLE seal_fittings;

ALTER TABLE seal_fittings_new RENAME TO seal_fittings;

CREATE INDEX seal_fittings_by_build ON seal_fittings ("build");

CREATE INDEX seal_fittings_by_seal ON seal_fittings ("seal") WHERE "seal" IS NOT NULL;

CREATE INDEX seal_fittings_impossible ON seal_fittings (id) WHERE ("measured_outside_diameter_mm" <> 0 AND "measured_outside_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("measured_inside_diameter_mm" <> 0 AND "measured_inside_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("measured_section_mm" <> 0 AND "measured_section_mm" NOT BETWEEN 1e-12 AND 1000000000000.0);

DROP INDEX build_parts_by_note_file_note_line;

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
    "bore_mm" REAL CHECK ("bore_mm" > 0 AND "bore_mm" <= 1000000000000),
    "outside_diameter_mm" REAL CHECK ("outside_diameter_mm" > 0 AND "outside_diameter_mm" <= 1000000000000),
    "pieces" INTEGER CHECK ("pieces" >= 1 AND "pieces" <= 20),
    "note" TEXT
) STRICT;

INSERT INTO build_shims_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "place", "thickness_mm", "bore_mm", "outside_diameter_mm", "pieces", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "place", "thickness_mm", "bore_mm", "outside_diameter_mm", "pieces", "note" FROM build_shims ORDER BY rowid;

DROP TABLE build_shims;

ALTER TABLE build_shims_new RENAME TO build_shims;

CREATE INDEX build_shims_by_build ON build_shims ("build");

CREATE INDEX build_shims_impossible ON build_shims (id) WHERE ("thickness_mm" <> 0 AND "thickness_mm" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "thickness_mm" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("bore_mm" <> 0 AND "bore_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("outside_diameter_mm" <> 0 AND "outside_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("pieces" <> 0 AND "pieces" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "mass_g" REAL NOT NULL CHECK ("mass_g" >= 0 AND "mass_g" <= 1000000000000),
    "sister_mass_g" REAL CHECK ("sister_mass_g" > 0 AND "sister_mass_g" <= 1000000000000),
    "mass_basis" TEXT CHECK ("mass_basis" IS NULL OR "mass_basis" = 'all parts on the pan' OR "mass_basis" = 'open half' OR "mass_basis" = 'closed' OR "mass_basis" = 'closed with bearings and crown gear'),
    "parts_on_pan" TEXT,
    "scale" TEXT REFERENCES scales(id),
    "runs" REAL CHECK ("runs" >= 0 AND "runs" <= 1000000000000),
    "person" TEXT REFERENCES people(id),
    "venue" TEXT REFERENCES venues(id),
    "wiped" TEXT CHECK ("wiped" IS NULL OR "wiped" = 'yes' OR "wiped" = 'no'),
    "note" TEXT,
    "basis_from" TEXT CHECK ("basis_from" IS NULL OR "basis_from" = 'written' OR "basis_from" = 'closed mass' OR "basis_from" = 'closed mass, written')
) STRICT;

INSERT INTO weighings_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "weighed_on", "mass_g", "sister_mass_g", "mass_basis", "parts_on_pan", "scale", "runs", "person", "venue", "wiped", "note", "basis_from") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "weighed_on", "mass_g", "sister_mass_g", "mass_basis", "parts_on_pan", "scale", "runs", "person", "venue", "wiped", "note", "basis_from" FROM weighings ORDER BY rowid;

DROP TABLE weighings;

ALTER TABLE weighings_new RENAME TO weighings;

CREATE INDEX weighings_by_build ON weighings ("build");

CREATE INDEX weighings_by_scale ON weighings ("scale") WHERE "scale" IS NOT NULL;

CREATE INDEX weighings_by_venue ON weighings ("venue") WHERE "venue" IS NOT NULL;

CREATE INDEX weighings_by_weighed_on ON weighings ("weighed_on");

CREATE INDEX weighings_by_note_file_note_line ON weighings ("note_file", "note_line");

CREATE INDEX weighings_impossible ON weighings (id) WHERE ("mass_g" <> 0 AND "mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("sister_mass_g" <> 0 AND "sister_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("runs" <> 0 AND "runs" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "closed_mass_g" REAL CHECK ("closed_mass_g" >= 0 AND "closed_mass_g" <= 1000000000000),
    "sister_mass_g" REAL CHECK ("sister_mass_g" > 0 AND "sister_mass_g" <= 1000000000000),
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

INSERT INTO openings_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "opened_on", "reason", "person", "closed_mass_g", "sister_mass_g", "scale", "leak_place", "leak_amount", "oil", "side_gears", "small_gears", "shafts", "cross_pin", "bores", "seals", "screws", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "opened_on", "reason", "person", "closed_mass_g", "sister_mass_g", "scale", "leak_place", "leak_amount", "oil", "side_gears", "small_gears", "shafts", "cross_pin", "bores", "seals", "screws", "note" FROM openings ORDER BY rowid;

DROP TABLE openings;

ALTER TABLE openings_new RENAME TO openings;

CREATE INDEX openings_by_build ON openings ("build");

CREATE INDEX openings_by_scale ON openings ("scale") WHERE "scale" IS NOT NULL;

CREATE INDEX openings_by_opened_on ON openings ("opened_on");

CREATE INDEX openings_impossible ON openings (id) WHERE ("closed_mass_g" <> 0 AND "closed_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("sister_mass_g" <> 0 AND "sister_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

DROP INDEX bench_jobs_by_note_file_note_line;

ALTER TABLE bench_steps ADD COLUMN "waits" TEXT CHECK ("waits" IS NULL OR "waits" = 'yes' OR "waits" = 'no');

DROP INDEX bench_steps_by_note_file_note_line;

DROP INDEX photos_by_note_file_note_line;

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
    "day_order" INTEGER CHECK ("day_order" >= 1 AND "day_order" <= 1000000000000),
    "event" TEXT REFERENCES events(id),
    "venue" TEXT REFERENCES venues(id),
    "car" TEXT REFERENCES cars(id),
    "driver" TEXT REFERENCES people(id),
    "noted_by" TEXT REFERENCES people(id),
    "surface_state" TEXT CHECK ("surface_state" IS NULL OR "surface_state" = 'dry' OR "surface_state" = 'dusty' OR "surface_state" = 'damp' OR "surface_state" = 'wet'),
    "grip" TEXT CHECK ("grip" IS NULL OR "grip" = 'low' OR "grip" = 'medium' OR "grip" = 'high'),
    "grip_trend" TEXT CHECK ("grip_trend" IS NULL OR "grip_trend" = 'rising' OR "grip_trend" = 'steady' OR "grip_trend" = 'falling'),
    "air_temp_c" REAL CHECK ("air_temp_c" >= -60 AND "air_temp_c" <= 70),
    "track_temp_c" REAL CHECK ("track_temp_c" >= -60 AND "track_temp_c" <= 100),
    "runs" REAL CHECK ("runs" >= 0 AND "runs" <= 1000000000000),
    "laps" INTEGER CHECK ("laps" >= 0 AND "laps" <= 1000000000000),
    "lap_times" TEXT,
    "best_lap_s" REAL CHECK ("best_lap_s" > 0 AND "best_lap_s" <= 1000000000000),
    "best_five_s" REAL CHECK ("best_five_s" > 0 AND "best_five_s" <= 1000000000000),
    "tyres" TEXT,
    "tyre_runs" REAL CHECK ("tyre_runs" >= 0 AND "tyre_runs" <= 1000000000000),
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

INSERT INTO runs_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note" FROM runs ORDER BY rowid;

DROP TABLE runs;

ALTER TABLE runs_new RENAME TO runs;

CREATE INDEX runs_by_event ON runs ("event") WHERE "event" IS NOT NULL;

CREATE INDEX runs_by_venue_run_on ON runs ("venue", "run_on") WHERE "venue" IS NOT NULL;

CREATE INDEX runs_by_car ON runs ("car") WHERE "car" IS NOT NULL;

CREATE INDEX runs_by_run_on ON runs ("run_on");

CREATE INDEX runs_by_note_file_note_line ON runs ("note_file", "note_line");

CREATE INDEX runs_by_label ON runs ("label" COLLATE NOCASE);

CREATE INDEX runs_impossible ON runs (id) WHERE ("day_order" <> 0 AND "day_order" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("air_temp_c" <> 0 AND "air_temp_c" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "air_temp_c" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("track_temp_c" <> 0 AND "track_temp_c" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "track_temp_c" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("runs" <> 0 AND "runs" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("laps" <> 0 AND "laps" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("best_lap_s" <> 0 AND "best_lap_s" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("best_five_s" <> 0 AND "best_five_s" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("tyre_runs" <> 0 AND "tyre_runs" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("balance_entry" <> 0 AND "balance_entry" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "balance_entry" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("balance_middle" <> 0 AND "balance_middle" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "balance_middle" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("balance_exit" <> 0 AND "balance_exit" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "balance_exit" NOT BETWEEN -1000000000000.0 AND -1e-12);

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
    "temp_taken" TEXT,
    "after_run_s" REAL CHECK ("after_run_s" >= 0 AND "after_run_s" <= 1000000000000),
    "second_diff_temp_c" REAL CHECK ("second_diff_temp_c" >= -60 AND "second_diff_temp_c" <= 200),
    "second_after_run_s" REAL CHECK ("second_after_run_s" >= 0 AND "second_after_run_s" <= 1000000000000),
    "temp_place" TEXT CHECK ("temp_place" IS NULL OR "temp_place" = 'front' OR "temp_place" = 'centre' OR "temp_place" = 'rear')
) STRICT;

INSERT INTO run_diffs_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "run", "build", "position", "diff_temp_c", "temp_taken", "after_run_s", "second_diff_temp_c", "second_after_run_s", "temp_place") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "run", "build", "position", "diff_temp_c", "temp_taken", "after_run_s", "second_diff_temp_c", "second_after_run_s", "temp_place" FROM run_diffs ORDER BY rowid;

DROP TABLE run_diffs;

ALTER TABLE run_diffs_new RENAME TO run_diffs;

CREATE INDEX run_diffs_by_run ON run_diffs ("run");

CREATE INDEX run_diffs_by_build ON run_diffs ("build");

CREATE INDEX run_diffs_by_note_file_note_line ON run_diffs ("note_file", "note_line");

CREATE INDEX run_diffs_impossible ON run_diffs (id) WHERE ("diff_temp_c" <> 0 AND "diff_temp_c" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "diff_temp_c" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("after_run_s" <> 0 AND "after_run_s" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("second_diff_temp_c" <> 0 AND "second_diff_temp_c" NOT BETWEEN 1e-12 AND 1000000000000.0 AND "second_diff_temp_c" NOT BETWEEN -1000000000000.0 AND -1e-12) OR ("second_after_run_s" <> 0 AND "second_after_run_s" NOT BETWEEN 1e-12 AND 1000000000000.0);

DROP INDEX car_diffs_by_note_file_note_line;

DROP INDEX car_values_by_note_file_note_line;

DROP INDEX findings_put_by_by_note_file_note_line;

CREATE TABLE joins_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "kind" TEXT NOT NULL CHECK ("kind" = 'diff' OR "kind" = 'fluid' OR "kind" = 'person' OR "kind" = 'venue' OR "kind" = 'car' OR "kind" = 'scale' OR "kind" = 'event'),
    "one" TEXT NOT NULL,
    "other" TEXT NOT NULL,
    "same" TEXT CHECK ("same" IS NULL OR "same" = 'yes' OR "same" = 'no'),
    "said_on" TEXT CHECK ("said_on" IS date("said_on", '+0 days')),
    "person" TEXT REFERENCES people(id),
    "note" TEXT
) STRICT;

INSERT INTO joins_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "kind", "one", "other", "same", "said_on", "person", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "kind", "one", "other", "same", "said_on", "person", "note" FROM joins ORDER BY rowid;

DROP TABLE joins;

ALTER TABLE joins_new RENAME TO joins;

CREATE INDEX joins_by_said_on ON joins ("said_on");

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
    "kind" TEXT NOT NULL CHECK ("kind" = 'runs between openings' OR "kind" = 'oil lost in grams' OR "kind" = 'oil lost as a share' OR "kind" = 'seal uses' OR "kind" = 'fill window'),
    "value" REAL NOT NULL CHECK ("value" >= 0 AND "value" <= 1000000000000),
    "diff" TEXT REFERENCES diffs(id),
    "note" TEXT
) STRICT;

INSERT INTO limits_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "kind", "value", "diff", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "kind", "value", "diff", "note" FROM limits ORDER BY rowid;

DROP TABLE limits;

ALTER TABLE limits_new RENAME TO limits;

CREATE INDEX limits_by_diff ON limits ("diff") WHERE "diff" IS NOT NULL;

CREATE INDEX limits_impossible ON limits (id) WHERE ("value" <> 0 AND "value" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE job_times_new (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "job" TEXT NOT NULL CHECK ("job" = 'rebuild' OR "job" = 'weigh' OR "job" = 'look over' OR "job" = 'oil change' OR "job" = 'out of the car and in again'),
    "minutes" REAL NOT NULL CHECK ("minutes" > 0 AND "minutes" <= 1000000000000),
    "diff" TEXT REFERENCES diffs(id),
    "note" TEXT,
    "waiting_minutes" REAL CHECK ("waiting_minutes" >= 0 AND "waiting_minutes" <= 1000000000000),
    "car" TEXT REFERENCES cars(id),
    "position" TEXT CHECK ("position" IS NULL OR "position" = 'front' OR "position" = 'centre' OR "position" = 'rear')
) STRICT;

INSERT INTO job_times_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "job", "minutes", "diff", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "job", "minutes", "diff", "note" FROM job_times ORDER BY rowid;

DROP TABLE job_times;

ALTER TABLE job_times_new RENAME TO job_times;

CREATE INDEX job_times_by_diff ON job_times ("diff") WHERE "diff" IS NOT NULL;

CREATE INDEX job_times_by_car ON job_times ("car") WHERE "car" IS NOT NULL;

CREATE INDEX job_times_impossible ON job_times (id) WHERE ("minutes" <> 0 AND "minutes" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("waiting_minutes" <> 0 AND "waiting_minutes" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE note_files_new (
    id TEXT PRIMARY KEY NOT NULL,
    "name" TEXT NOT NULL,
    "sha256" TEXT NOT NULL,
    "byte_count" INTEGER NOT NULL CHECK ("byte_count" >= 0 AND "byte_count" <= 1000000000000),
    "read_at" TEXT NOT NULL,
    "options" TEXT,
    "entry" TEXT,
    "accepted" INTEGER NOT NULL CHECK ("accepted" >= 0 AND "accepted" <= 1000000000000),
    "rejected" INTEGER NOT NULL CHECK ("rejected" >= 0 AND "rejected" <= 1000000000000),
    "skipped" INTEGER NOT NULL CHECK ("skipped" >= 0 AND "skipped" <= 1000000000000),
    "part" TEXT
) STRICT;

INSERT INTO note_files_new (rowid, "id", "name", "sha256", "byte_count", "read_at", "options", "entry", "accepted", "rejected", "skipped", "part") SELECT rowid, "id", "name", "sha256", "byte_count", "read_at", "options", "entry", "accepted", "rejected", "skipped", "part" FROM note_files ORDER BY rowid;

DROP TABLE note_files;

ALTER TABLE note_files_new RENAME TO note_files;

CREATE TABLE note_rejects_new (
    id TEXT PRIMARY KEY NOT NULL,
    "note_file" TEXT NOT NULL REFERENCES note_files(id),
    "line" INTEGER NOT NULL CHECK ("line" >= 1 AND "line" <= 1000000000000),
    "status" TEXT NOT NULL CHECK ("status" = 'rejected' OR "status" = 'skipped'),
    "reason" TEXT NOT NULL,
    "column_name" TEXT,
    "value" TEXT,
    "words" TEXT,
    "raw" TEXT NOT NULL,
    "closed_by" TEXT REFERENCES note_files(id),
    "closed_line" INTEGER CHECK ("closed_line" >= 1 AND "closed_line" <= 1000000000000)
) STRICT;

INSERT INTO note_rejects_new (rowid, "id", "note_file", "line", "status", "reason", "column_name", "value", "words", "raw", "closed_by", "closed_line") SELECT rowid, "id", "note_file", "line", "status", "reason", "column_name", "value", "words", "raw", "closed_by", "closed_line" FROM note_rejects ORDER BY rowid;

DROP TABLE note_rejects;

ALTER TABLE note_rejects_new RENAME TO note_rejects;

CREATE INDEX note_rejects_by_note_file ON note_rejects ("note_file");

CREATE INDEX note_rejects_by_closed_by ON note_rejects ("closed_by") WHERE "closed_by" IS NOT NULL;

CREATE TABLE note_extras_new (
    id TEXT PRIMARY KEY NOT NULL,
    "note_file" TEXT NOT NULL REFERENCES note_files(id),
    "line" INTEGER NOT NULL CHECK ("line" >= 1 AND "line" <= 1000000000000),
    "cells" TEXT NOT NULL
) STRICT;

INSERT INTO note_extras_new (rowid, "id", "note_file", "line", "cells") SELECT rowid, "id", "note_file", "line", "cells" FROM note_extras ORDER BY rowid;

DROP TABLE note_extras;

ALTER TABLE note_extras_new RENAME TO note_extras;

CREATE INDEX note_extras_by_note_file ON note_extras ("note_file");

CREATE TABLE pictures_new (
    id TEXT PRIMARY KEY NOT NULL,
    "came_sha256" TEXT NOT NULL,
    "width_px" INTEGER NOT NULL CHECK ("width_px" >= 1 AND "width_px" <= 1000000000000),
    "height_px" INTEGER NOT NULL CHECK ("height_px" >= 1 AND "height_px" <= 1000000000000),
    "thumbnail_width_px" INTEGER NOT NULL CHECK ("thumbnail_width_px" >= 1 AND "thumbnail_width_px" <= 1000000000000),
    "thumbnail_height_px" INTEGER NOT NULL CHECK ("thumbnail_height_px" >= 1 AND "thumbnail_height_px" <= 1000000000000),
    "byte_count" INTEGER NOT NULL CHECK ("byte_count" >= 1 AND "byte_count" <= 1000000000000),
    "kept_at" TEXT NOT NULL
) STRICT;

INSERT INTO pictures_new (rowid, "id", "came_sha256", "width_px", "height_px", "thumbnail_width_px", "thumbnail_height_px", "byte_count", "kept_at") SELECT rowid, "id", "came_sha256", "width_px", "height_px", "thumbnail_width_px", "thumbnail_height_px", "byte_count", "kept_at" FROM pictures ORDER BY rowid;

DROP TABLE pictures;

ALTER TABLE pictures_new RENAME TO pictures;

CREATE TABLE calculations_new (
    id TEXT PRIMARY KEY NOT NULL,
    "calculator" TEXT NOT NULL,
    "version" INTEGER NOT NULL CHECK ("version" >= 1 AND "version" <= 1000000000000),
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
    "calculated_by" TEXT,
    "entry" TEXT,
    "fingerprint" TEXT
) STRICT;

INSERT INTO calculations_new (rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by", "entry", "fingerprint") SELECT rowid, "id", "calculator", "version", "subject_table", "subject_id", "given", "found", "rows", "uncertainties", "origins", "verdict", "reasons", "package", "package_version", "calculated_at", "calculated_by", "entry", "fingerprint" FROM calculations ORDER BY rowid;

DROP TABLE calculations;

ALTER TABLE calculations_new RENAME TO calculations;

CREATE INDEX calculations_by_subject_table_subject_id_calculator ON calculations ("subject_table", "subject_id", "calculator");

CREATE INDEX calculations_by_calculator_verdict ON calculations ("calculator", "verdict");

CREATE INDEX calculations_by_version_calculator_fingerprint ON calculations ("version", "calculator", "fingerprint");

CREATE TABLE erasures_new (
    id TEXT PRIMARY KEY NOT NULL,
    "what" TEXT NOT NULL CHECK ("what" = 'name' OR "what" = 'text' OR "what" = 'file' OR "what" = 'picture'),
    "table_name" TEXT,
    "row_id" TEXT NOT NULL,
    "version" TEXT,
    "column_name" TEXT,
    "instead" TEXT NOT NULL,
    "words" INTEGER CHECK ("words" >= 1 AND "words" <= 1000000000000),
    "in_texts" TEXT CHECK ("in_texts" IS NULL OR "in_texts" = 'yes' OR "in_texts" = 'no')
) STRICT;

INSERT INTO erasures_new (rowid, "id", "what", "table_name", "row_id", "version", "column_name", "instead", "words", "in_texts") SELECT rowid, "id", "what", "table_name", "row_id", "version", "column_name", "instead", "words", "in_texts" FROM erasures ORDER BY rowid;

DROP TABLE erasures;

ALTER TABLE erasures_new RENAME TO erasures;

CREATE TABLE build_facts_new (
    "build" TEXT PRIMARY KEY NOT NULL,
    "diff" TEXT NOT NULL,
    "runs" REAL NOT NULL CHECK ("runs" >= 0 AND "runs" <= 1e+100),
    "opened_on" TEXT CHECK ("opened_on" IS date("opened_on", '+0 days')),
    "opened_for" TEXT,
    "leak_place" TEXT,
    "viscosity_cst" REAL CHECK ("viscosity_cst" >= -1e+100 AND "viscosity_cst" <= 1e+100),
    "viscosity_from" TEXT,
    "oil_in_g" REAL CHECK ("oil_in_g" >= -1e+100 AND "oil_in_g" <= 1e+100),
    "weighed_as" TEXT,
    "weighings" INTEGER CHECK ("weighings" >= -1e+100 AND "weighings" <= 1e+100),
    "first_mass_g" REAL CHECK ("first_mass_g" >= -1e+100 AND "first_mass_g" <= 1e+100),
    "last_mass_g" REAL CHECK ("last_mass_g" >= -1e+100 AND "last_mass_g" <= 1e+100),
    "weighed_at_runs" REAL CHECK ("weighed_at_runs" >= -1e+100 AND "weighed_at_runs" <= 1e+100),
    "loss_g" REAL CHECK ("loss_g" >= -1e+100 AND "loss_g" <= 1e+100),
    "loss_uncertainty_g" REAL CHECK ("loss_uncertainty_g" >= -1e+100 AND "loss_uncertainty_g" <= 1e+100),
    "caution_g" REAL CHECK ("caution_g" >= -1e+100 AND "caution_g" <= 1e+100),
    "stop_g" REAL CHECK ("stop_g" >= -1e+100 AND "stop_g" <= 1e+100),
    "limit_from" TEXT CHECK ("limit_from" IS NULL OR "limit_from" = 'yours' OR "limit_from" = 'proposal'),
    "leak" TEXT CHECK ("leak" IS NULL OR "leak" = 'ok' OR "leak" = 'caution' OR "leak" = 'stop' OR "leak" = 'unclear'),
    "good_until_runs" REAL CHECK ("good_until_runs" >= -1e+100 AND "good_until_runs" <= 1e+100),
    "bad_from_runs" REAL CHECK ("bad_from_runs" >= -1e+100 AND "bad_from_runs" <= 1e+100),
    "weighings_apart" TEXT,
    "stop_low_runs" REAL CHECK ("stop_low_runs" >= 0 AND "stop_low_runs" <= 1e+100),
    "stop_runs" REAL CHECK ("stop_runs" >= 0 AND "stop_runs" <= 1e+100),
    "stop_high_runs" REAL CHECK ("stop_high_runs" >= 0 AND "stop_high_runs" <= 1e+100)
) STRICT, WITHOUT ROWID;

INSERT INTO build_facts_new ("build", "diff", "runs", "opened_on", "opened_for", "leak_place", "viscosity_cst", "viscosity_from", "oil_in_g", "weighed_as", "weighings", "first_mass_g", "last_mass_g", "weighed_at_runs", "loss_g", "loss_uncertainty_g", "caution_g", "stop_g", "limit_from", "leak", "good_until_runs", "bad_from_runs", "weighings_apart") SELECT "build", "diff", "runs", "opened_on", "opened_for", "leak_place", "viscosity_cst", "viscosity_from", "oil_in_g", "weighed_as", "weighings", "first_mass_g", "last_mass_g", "weighed_at_runs", "loss_g", "loss_uncertainty_g", "caution_g", "stop_g", "limit_from", "leak", "good_until_runs", "bad_from_runs", "weighings_apart" FROM build_facts;

DROP TABLE build_facts;

ALTER TABLE build_facts_new RENAME TO build_facts;

CREATE INDEX build_facts_by_leak ON build_facts ("leak") WHERE "leak" IS NOT NULL;

CREATE TABLE run_diff_facts_new (
    "run_diff" TEXT PRIMARY KEY NOT NULL,
    "build" TEXT NOT NULL,
    "runs_before" REAL NOT NULL CHECK ("runs_before" >= 0 AND "runs_before" <= 1e+100),
    "runs_after" REAL NOT NULL CHECK ("runs_after" >= 0 AND "runs_after" <= 1e+100),
    "fill_state" TEXT NOT NULL CHECK ("fill_state" = 'full' OR "fill_state" = 'unknown' OR "fill_state" = 'doubtful' OR "fill_state" = 'lost oil'),
    "viscosity_at_diff_temperature_cst" REAL CHECK ("viscosity_at_diff_temperature_cst" >= -1e+100 AND "viscosity_at_diff_temperature_cst" <= 1e+100)
) STRICT, WITHOUT ROWID;

INSERT INTO run_diff_facts_new ("run_diff", "build", "runs_before", "runs_after", "fill_state", "viscosity_at_diff_temperature_cst") SELECT "run_diff", "build", "runs_before", "runs_after", "fill_state", "viscosity_at_diff_temperature_cst" FROM run_diff_facts;

DROP TABLE run_diff_facts;

ALTER TABLE run_diff_facts_new RENAME TO run_diff_facts;

CREATE TABLE diff_facts_new (
    "diff" TEXT PRIMARY KEY NOT NULL,
    "current_build" TEXT,
    "position" TEXT CHECK ("position" IS NULL OR "position" = 'front' OR "position" = 'centre' OR "position" = 'rear'),
    "word" TEXT NOT NULL CHECK ("word" = 'ready' OR "word" = 'look at it' OR "word" = 'weigh it' OR "word" = 'open it' OR "word" = 'apart'),
    "reasons" TEXT,
    "seal_uses" INTEGER CHECK ("seal_uses" >= -1e+100 AND "seal_uses" <= 1e+100),
    "limit_runs" REAL CHECK ("limit_runs" >= -1e+100 AND "limit_runs" <= 1e+100),
    "limit_loss_g" REAL CHECK ("limit_loss_g" >= -1e+100 AND "limit_loss_g" <= 1e+100),
    "limit_loss_share" REAL CHECK ("limit_loss_share" >= -1e+100 AND "limit_loss_share" <= 1e+100),
    "limit_seal_uses" REAL CHECK ("limit_seal_uses" >= -1e+100 AND "limit_seal_uses" <= 1e+100),
    "limit_fill_window_g" REAL CHECK ("limit_fill_window_g" >= -1e+100 AND "limit_fill_window_g" <= 1e+100)
) STRICT, WITHOUT ROWID;

INSERT INTO diff_facts_new ("diff", "current_build", "position", "word", "reasons", "seal_uses", "limit_runs", "limit_loss_g", "limit_loss_share", "limit_seal_uses", "limit_fill_window_g") SELECT "diff", "current_build", "position", "word", "reasons", "seal_uses", "limit_runs", "limit_loss_g", "limit_loss_share", "limit_seal_uses", "limit_fill_window_g" FROM diff_facts;

DROP TABLE diff_facts;

ALTER TABLE diff_facts_new RENAME TO diff_facts;

CREATE VIRTUAL TABLE events_search USING fts5("name", "note", content="events", tokenize='unicode61 remove_diacritics 2');

INSERT INTO events_search (rowid, "name", "note") SELECT rowid, "name", "note" FROM events;

DROP TABLE runs_search;

CREATE VIRTUAL TABLE runs_search USING fts5("changed", "happened", "note", content="runs", tokenize='unicode61 remove_diacritics 2');

INSERT INTO runs_search (rowid, "changed", "happened", "note") SELECT rowid, "changed", "happened", "note" FROM runs;

CREATE VIRTUAL TABLE stock_parts_search USING fts5("label", "note", content="stock_parts", tokenize='unicode61 remove_diacritics 2');

INSERT INTO stock_parts_search (rowid, "label", "note") SELECT rowid, "label", "note" FROM stock_parts;
