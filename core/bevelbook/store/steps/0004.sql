-- which diff sits in which car, what a person put by, what was taken back, where a reject was corrected, what a scale can tell, a second reading of a diff's temperature, part of a kept file, the work at the bench, photographs, names that are joined, labels met elsewhere, clashes that follow from the records, which records are one with others
CREATE TABLE scale_readings (
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
    "place" INTEGER NOT NULL CHECK ("place" >= 1),
    "mass_g" REAL NOT NULL CHECK ("mass_g" >= 0),
    "note" TEXT
) STRICT;

CREATE INDEX scale_readings_by_scale ON scale_readings ("scale");

CREATE INDEX scale_readings_by_read_on ON scale_readings ("read_on");

CREATE INDEX scale_readings_by_note_file_note_line ON scale_readings ("note_file", "note_line");

CREATE INDEX scale_readings_impossible ON scale_readings (id) WHERE ("mass_g" <> 0 AND "mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE bench_jobs (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "diff" TEXT NOT NULL REFERENCES diffs(id),
    "kind" TEXT NOT NULL CHECK ("kind" = 'new' OR "kind" = 'rebuild' OR "kind" = 'oil change' OR "kind" = 'top-up'),
    "way" TEXT NOT NULL CHECK ("way" = 'step by step' OR "way" = 'same again'),
    "begun_at" TEXT NOT NULL,
    "like" TEXT REFERENCES builds(id),
    "ends" TEXT REFERENCES builds(id),
    "opening" TEXT REFERENCES openings(id),
    "build" TEXT REFERENCES builds(id),
    "person" TEXT REFERENCES people(id),
    "done_at" TEXT,
    "given_up" TEXT,
    "at_step" TEXT
) STRICT;

CREATE INDEX bench_jobs_by_diff ON bench_jobs ("diff");

CREATE INDEX bench_jobs_by_like ON bench_jobs ("like") WHERE "like" IS NOT NULL;

CREATE INDEX bench_jobs_by_ends ON bench_jobs ("ends") WHERE "ends" IS NOT NULL;

CREATE INDEX bench_jobs_by_opening ON bench_jobs ("opening") WHERE "opening" IS NOT NULL;

CREATE INDEX bench_jobs_by_build ON bench_jobs ("build") WHERE "build" IS NOT NULL;

CREATE INDEX bench_jobs_by_note_file_note_line ON bench_jobs ("note_file", "note_line");

CREATE TABLE bench_steps (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "job" TEXT NOT NULL REFERENCES bench_jobs(id),
    "step" TEXT NOT NULL,
    "title" TEXT NOT NULL,
    "begun_at" TEXT NOT NULL,
    "until_at" TEXT,
    "done_at" TEXT,
    "left_out" TEXT,
    "note" TEXT
) STRICT;

CREATE INDEX bench_steps_by_job ON bench_steps ("job");

CREATE INDEX bench_steps_by_note_file_note_line ON bench_steps ("note_file", "note_line");

CREATE TABLE photos (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "opening" TEXT REFERENCES openings(id),
    "build_part" TEXT REFERENCES build_parts(id),
    "seal_fitting" TEXT REFERENCES seal_fittings(id),
    "build" TEXT REFERENCES builds(id),
    "bottle" TEXT REFERENCES bottles(id),
    "piece" TEXT NOT NULL CHECK ("piece" = 'outdrive' OR "piece" = 'seal' OR "piece" = 'side gear' OR "piece" = 'small gear' OR "piece" = 'cross pin' OR "piece" = 'bearing' OR "piece" = 'gasket' OR "piece" = 'screw' OR "piece" = 'case' OR "piece" = 'oil' OR "piece" = 'whole diff' OR "piece" = 'label' OR "piece" = 'other'),
    "side" TEXT CHECK ("side" IS NULL OR "side" = 'case side' OR "side" = 'lid side' OR "side" = 'both' OR "side" = 'joint'),
    "taken_on" TEXT NOT NULL CHECK ("taken_on" IS date("taken_on", '+0 days')),
    "person" TEXT REFERENCES people(id),
    "note" TEXT,
    "picture" TEXT NOT NULL REFERENCES pictures(id),
    CHECK (("opening" IS NOT NULL) + ("build_part" IS NOT NULL) + ("seal_fitting" IS NOT NULL) + ("build" IS NOT NULL) + ("bottle" IS NOT NULL) = 1)
) STRICT;

CREATE INDEX photos_by_opening ON photos ("opening") WHERE "opening" IS NOT NULL;

CREATE INDEX photos_by_build_part ON photos ("build_part") WHERE "build_part" IS NOT NULL;

CREATE INDEX photos_by_seal_fitting ON photos ("seal_fitting") WHERE "seal_fitting" IS NOT NULL;

CREATE INDEX photos_by_build ON photos ("build") WHERE "build" IS NOT NULL;

CREATE INDEX photos_by_bottle ON photos ("bottle") WHERE "bottle" IS NOT NULL;

CREATE INDEX photos_by_picture ON photos ("picture");

CREATE INDEX photos_by_taken_on ON photos ("taken_on");

CREATE INDEX photos_by_note_file_note_line ON photos ("note_file", "note_line");

CREATE TABLE car_diffs (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "car" TEXT NOT NULL REFERENCES cars(id),
    "position" TEXT NOT NULL CHECK ("position" = 'front' OR "position" = 'centre' OR "position" = 'rear'),
    "diff" TEXT REFERENCES diffs(id),
    "instead" TEXT CHECK ("instead" IS NULL OR "instead" = 'spool' OR "instead" = 'one-way' OR "instead" = 'slipper' OR "instead" = 'none'),
    "from_on" TEXT NOT NULL CHECK ("from_on" IS date("from_on", '+0 days')),
    "from_at" TEXT,
    "after_run" TEXT REFERENCES runs(id),
    "note" TEXT
) STRICT;

CREATE INDEX car_diffs_by_car ON car_diffs ("car");

CREATE INDEX car_diffs_by_diff ON car_diffs ("diff") WHERE "diff" IS NOT NULL;

CREATE INDEX car_diffs_by_after_run ON car_diffs ("after_run") WHERE "after_run" IS NOT NULL;

CREATE INDEX car_diffs_by_from_on ON car_diffs ("from_on");

CREATE INDEX car_diffs_by_note_file_note_line ON car_diffs ("note_file", "note_line");

CREATE TABLE car_values (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "car" TEXT NOT NULL REFERENCES cars(id),
    "what" TEXT NOT NULL,
    "value" TEXT,
    "from_on" TEXT NOT NULL CHECK ("from_on" IS date("from_on", '+0 days')),
    "from_at" TEXT,
    "after_run" TEXT REFERENCES runs(id),
    "note" TEXT
) STRICT;

CREATE INDEX car_values_by_car ON car_values ("car");

CREATE INDEX car_values_by_after_run ON car_values ("after_run") WHERE "after_run" IS NOT NULL;

CREATE INDEX car_values_by_from_on ON car_values ("from_on");

CREATE INDEX car_values_by_note_file_note_line ON car_values ("note_file", "note_line");

CREATE TABLE findings_put_by (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "code" TEXT NOT NULL,
    "subject_table" TEXT NOT NULL,
    "subject_id" TEXT NOT NULL,
    "words" TEXT NOT NULL,
    "reason" TEXT NOT NULL,
    "put_by_on" TEXT CHECK ("put_by_on" IS date("put_by_on", '+0 days')),
    "person" TEXT REFERENCES people(id)
) STRICT;

CREATE INDEX findings_put_by_by_put_by_on ON findings_put_by ("put_by_on");

CREATE INDEX findings_put_by_by_note_file_note_line ON findings_put_by ("note_file", "note_line");

CREATE TABLE joins (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "kind" TEXT NOT NULL CHECK ("kind" = 'diff' OR "kind" = 'fluid' OR "kind" = 'person' OR "kind" = 'venue' OR "kind" = 'car' OR "kind" = 'scale'),
    "one" TEXT NOT NULL,
    "other" TEXT NOT NULL,
    "same" TEXT CHECK ("same" IS NULL OR "same" = 'yes' OR "same" = 'no'),
    "said_on" TEXT CHECK ("said_on" IS date("said_on", '+0 days')),
    "person" TEXT REFERENCES people(id),
    "note" TEXT
) STRICT;

CREATE INDEX joins_by_said_on ON joins ("said_on");

CREATE INDEX joins_by_note_file_note_line ON joins ("note_file", "note_line");

CREATE TABLE job_times (
    id TEXT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL DEFAULT ('another program ' || lower(hex(randomblob(8)))),
    parents TEXT CHECK (parents IS NULL OR json_valid(parents)),
    entered TEXT CHECK (entered IS NULL OR json_valid(entered)),
    note_file TEXT REFERENCES note_files(id),
    note_line INTEGER,
    created_at TEXT NOT NULL,
    updated_at TEXT NOT NULL,
    updated_by TEXT,
    "job" TEXT NOT NULL CHECK ("job" = 'rebuild' OR "job" = 'weigh' OR "job" = 'look over'),
    "minutes" REAL NOT NULL CHECK ("minutes" > 0),
    "diff" TEXT REFERENCES diffs(id),
    "note" TEXT
) STRICT;

CREATE INDEX job_times_by_diff ON job_times ("diff") WHERE "diff" IS NOT NULL;

CREATE INDEX job_times_by_note_file_note_line ON job_times ("note_file", "note_line");

CREATE INDEX job_times_impossible ON job_times (id) WHERE ("minutes" <> 0 AND "minutes" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE pictures (
    id TEXT PRIMARY KEY NOT NULL,
    "came_sha256" TEXT NOT NULL,
    "width_px" INTEGER NOT NULL CHECK ("width_px" >= 1),
    "height_px" INTEGER NOT NULL CHECK ("height_px" >= 1),
    "thumbnail_width_px" INTEGER NOT NULL CHECK ("thumbnail_width_px" >= 1),
    "thumbnail_height_px" INTEGER NOT NULL CHECK ("thumbnail_height_px" >= 1),
    "byte_count" INTEGER NOT NULL CHECK ("byte_count" >= 1),
    "kept_at" TEXT NOT NULL
) STRICT;

CREATE TABLE erasures (
    id TEXT PRIMARY KEY NOT NULL,
    "what" TEXT NOT NULL CHECK ("what" = 'name' OR "what" = 'text' OR "what" = 'file' OR "what" = 'picture'),
    "table_name" TEXT,
    "row_id" TEXT NOT NULL,
    "version" TEXT,
    "column_name" TEXT,
    "instead" TEXT NOT NULL,
    "words" INTEGER CHECK ("words" >= 1),
    "in_texts" TEXT CHECK ("in_texts" IS NULL OR "in_texts" = 'yes' OR "in_texts" = 'no')
) STRICT;

CREATE TABLE note_diffs (
    id TEXT PRIMARY KEY NOT NULL,
    "table_name" TEXT NOT NULL,
    "row_id" TEXT NOT NULL,
    "version" TEXT NOT NULL,
    "diff" TEXT NOT NULL
) STRICT;

CREATE TABLE picture_bytes (
    sha256 TEXT PRIMARY KEY NOT NULL,
    thumbnail BLOB NOT NULL,
    jpeg BLOB NOT NULL
) STRICT;

CREATE TABLE as_written (
    table_name TEXT NOT NULL,
    row_id TEXT NOT NULL,
    column_name TEXT NOT NULL,
    written TEXT NOT NULL,
    PRIMARY KEY (table_name, row_id, column_name)
) STRICT, WITHOUT ROWID;

CREATE TABLE one_with (
    kind TEXT NOT NULL,
    id TEXT NOT NULL,
    stands TEXT NOT NULL,
    PRIMARY KEY (kind, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE also_called (
    table_name TEXT NOT NULL,
    row_id TEXT NOT NULL,
    label TEXT NOT NULL,
    PRIMARY KEY (table_name, row_id, label)
) STRICT, WITHOUT ROWID;

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
    "day_to_day_g" REAL CHECK ("day_to_day_g" >= 0),
    "error_bound_g" REAL CHECK ("error_bound_g" >= 0),
    "checked_on" TEXT CHECK ("checked_on" IS date("checked_on", '+0 days')),
    "note" TEXT
) STRICT;

INSERT INTO scales_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "step_g", "repeatability_g", "error_bound_g", "checked_on", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "name", "step_g", "repeatability_g", "error_bound_g", "checked_on", "note" FROM scales ORDER BY rowid;

DROP TABLE scales;

ALTER TABLE scales_new RENAME TO scales;

CREATE INDEX scales_by_note_file_note_line ON scales ("note_file", "note_line");

CREATE INDEX scales_impossible ON scales (id) WHERE ("step_g" <> 0 AND "step_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("repeatability_g" <> 0 AND "repeatability_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("day_to_day_g" <> 0 AND "day_to_day_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("error_bound_g" <> 0 AND "error_bound_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "housing_mass_g" REAL CHECK ("housing_mass_g" > 0),
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

INSERT INTO diffs_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "usual_position", "housing_material", "free_volume_cm3", "free_volume_from", "screw_count", "screw_size", "screw_hole", "shaft_diameter_mm", "joint_seal", "shaft_seal", "usual_dry_mass_g", "usual_lid_mass_g", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "usual_position", "housing_material", "free_volume_cm3", "free_volume_from", "screw_count", "screw_size", "screw_hole", "shaft_diameter_mm", "joint_seal", "shaft_seal", "usual_dry_mass_g", "usual_lid_mass_g", "note" FROM diffs ORDER BY rowid;

DROP TABLE diffs;

ALTER TABLE diffs_new RENAME TO diffs;

CREATE INDEX diffs_by_joint_seal ON diffs ("joint_seal") WHERE "joint_seal" IS NOT NULL;

CREATE INDEX diffs_by_shaft_seal ON diffs ("shaft_seal") WHERE "shaft_seal" IS NOT NULL;

CREATE INDEX diffs_by_note_file_note_line ON diffs ("note_file", "note_line");

CREATE INDEX diffs_impossible ON diffs (id) WHERE ("housing_mass_g" <> 0 AND "housing_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("free_volume_cm3" <> 0 AND "free_volume_cm3" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("shaft_diameter_mm" <> 0 AND "shaft_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("usual_dry_mass_g" <> 0 AND "usual_dry_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("usual_lid_mass_g" <> 0 AND "usual_lid_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "full_mass_g" REAL CHECK ("full_mass_g" > 0),
    "empty_mass_g" REAL CHECK ("empty_mass_g" > 0),
    "empty" TEXT CHECK ("empty" IS NULL OR "empty" = 'yes' OR "empty" = 'no'),
    "note" TEXT
) STRICT;

INSERT INTO bottles_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "fluid", "lot", "opened_on", "viscosity_cst", "viscosity_uncertainty_cst", "measured_on", "method", "density_g_cm3", "empty", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "fluid", "lot", "opened_on", "viscosity_cst", "viscosity_uncertainty_cst", "measured_on", "method", "density_g_cm3", "empty", "note" FROM bottles ORDER BY rowid;

DROP TABLE bottles;

ALTER TABLE bottles_new RENAME TO bottles;

CREATE INDEX bottles_by_fluid ON bottles ("fluid");

CREATE INDEX bottles_by_opened_on ON bottles ("opened_on");

CREATE INDEX bottles_by_note_file_note_line ON bottles ("note_file", "note_line");

CREATE INDEX bottles_impossible ON bottles (id) WHERE ("viscosity_cst" <> 0 AND "viscosity_cst" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("viscosity_uncertainty_cst" <> 0 AND "viscosity_uncertainty_cst" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("full_mass_g" <> 0 AND "full_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("empty_mass_g" <> 0 AND "empty_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "viscosity_cst" REAL CHECK ("viscosity_cst" > 0),
    "viscosity_from" TEXT CHECK ("viscosity_from" IS NULL OR "viscosity_from" = 'note' OR "viscosity_from" = 'own measurement' OR "viscosity_from" = 'label''s source' OR "viscosity_from" = 'blend'),
    "dry_mass_g" REAL CHECK ("dry_mass_g" >= 0),
    "target_oil_mass_g" REAL CHECK ("target_oil_mass_g" > 0),
    "oil_mass_g" REAL CHECK ("oil_mass_g" >= 0),
    "filled_mass_g" REAL CHECK ("filled_mass_g" >= 0),
    "closed_mass_g" REAL CHECK ("closed_mass_g" >= 0),
    "sister_mass_g" REAL CHECK ("sister_mass_g" > 0),
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
    "day_order" INTEGER CHECK ("day_order" >= 1)
) STRICT;

INSERT INTO builds_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "diff", "built_on", "kind", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "screw_torque_nm", "hand_feel", "against_last", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "diff", "built_on", "kind", "builder", "like", "tries", "fluid", "bottle", "viscosity_cst", "viscosity_from", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale", "squeeze_out", "degassing", "grease", "gasket", "screw_torque_nm", "hand_feel", "against_last", "note" FROM builds ORDER BY rowid;

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

CREATE INDEX builds_impossible ON builds (id) WHERE ("viscosity_cst" <> 0 AND "viscosity_cst" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("dry_mass_g" <> 0 AND "dry_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("target_oil_mass_g" <> 0 AND "target_oil_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("oil_mass_g" <> 0 AND "oil_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("filled_mass_g" <> 0 AND "filled_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("closed_mass_g" <> 0 AND "closed_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("sister_mass_g" <> 0 AND "sister_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "sister_mass_g" REAL CHECK ("sister_mass_g" > 0),
    "mass_basis" TEXT CHECK ("mass_basis" IS NULL OR "mass_basis" = 'all parts on the pan' OR "mass_basis" = 'open half' OR "mass_basis" = 'closed' OR "mass_basis" = 'closed with bearings and crown gear'),
    "parts_on_pan" TEXT,
    "scale" TEXT REFERENCES scales(id),
    "runs" REAL CHECK ("runs" >= 0),
    "person" TEXT REFERENCES people(id),
    "venue" TEXT REFERENCES venues(id),
    "wiped" TEXT CHECK ("wiped" IS NULL OR "wiped" = 'yes' OR "wiped" = 'no'),
    "note" TEXT,
    "basis_from" TEXT CHECK ("basis_from" IS NULL OR "basis_from" = 'written' OR "basis_from" = 'closed mass' OR "basis_from" = 'closed mass, written')
) STRICT;

INSERT INTO weighings_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "weighed_on", "mass_g", "mass_basis", "parts_on_pan", "scale", "runs", "person", "wiped", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "weighed_on", "mass_g", "mass_basis", "parts_on_pan", "scale", "runs", "person", "wiped", "note" FROM weighings ORDER BY rowid;

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
    "closed_mass_g" REAL CHECK ("closed_mass_g" >= 0),
    "sister_mass_g" REAL CHECK ("sister_mass_g" > 0),
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

INSERT INTO openings_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "opened_on", "reason", "person", "closed_mass_g", "scale", "leak_place", "leak_amount", "oil", "side_gears", "small_gears", "shafts", "cross_pin", "bores", "seals", "screws", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "build", "opened_on", "reason", "person", "closed_mass_g", "scale", "leak_place", "leak_amount", "oil", "side_gears", "small_gears", "shafts", "cross_pin", "bores", "seals", "screws", "note" FROM openings ORDER BY rowid;

DROP TABLE openings;

ALTER TABLE openings_new RENAME TO openings;

CREATE INDEX openings_by_build ON openings ("build");

CREATE INDEX openings_by_scale ON openings ("scale") WHERE "scale" IS NOT NULL;

CREATE INDEX openings_by_opened_on ON openings ("opened_on");

CREATE INDEX openings_by_note_file_note_line ON openings ("note_file", "note_line");

CREATE INDEX openings_impossible ON openings (id) WHERE ("closed_mass_g" <> 0 AND "closed_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("sister_mass_g" <> 0 AND "sister_mass_g" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE INDEX runs_by_label ON runs ("label" COLLATE NOCASE);

ALTER TABLE run_diffs ADD COLUMN "after_run_s" REAL CHECK ("after_run_s" >= 0);

ALTER TABLE run_diffs ADD COLUMN "second_diff_temp_c" REAL CHECK ("second_diff_temp_c" >= -60 AND "second_diff_temp_c" <= 200);

ALTER TABLE run_diffs ADD COLUMN "second_after_run_s" REAL CHECK ("second_after_run_s" >= 0);

ALTER TABLE run_diffs ADD COLUMN "temp_place" TEXT CHECK ("temp_place" IS NULL OR "temp_place" = 'front' OR "temp_place" = 'centre' OR "temp_place" = 'rear');

CREATE INDEX run_diffs_impossible ON run_diffs (id) WHERE ("after_run_s" <> 0 AND "after_run_s" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("second_after_run_s" <> 0 AND "second_after_run_s" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "value" REAL NOT NULL CHECK ("value" >= 0),
    "diff" TEXT REFERENCES diffs(id),
    "note" TEXT
) STRICT;

INSERT INTO limits_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "kind", "value", "diff", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "kind", "value", "diff", "note" FROM limits ORDER BY rowid;

DROP TABLE limits;

ALTER TABLE limits_new RENAME TO limits;

CREATE INDEX limits_by_diff ON limits ("diff") WHERE "diff" IS NOT NULL;

CREATE INDEX limits_by_note_file_note_line ON limits ("note_file", "note_line");

CREATE INDEX limits_impossible ON limits (id) WHERE ("value" <> 0 AND "value" NOT BETWEEN 1e-12 AND 1000000000000.0);

CREATE TABLE note_files_new (
    id TEXT PRIMARY KEY NOT NULL,
    "name" TEXT NOT NULL,
    "sha256" TEXT NOT NULL,
    "byte_count" INTEGER NOT NULL CHECK ("byte_count" >= 0),
    "read_at" TEXT NOT NULL,
    "options" TEXT,
    "entry" TEXT,
    "accepted" INTEGER NOT NULL CHECK ("accepted" >= 0),
    "rejected" INTEGER NOT NULL CHECK ("rejected" >= 0),
    "skipped" INTEGER NOT NULL CHECK ("skipped" >= 0),
    "part" TEXT
) STRICT;

INSERT INTO note_files_new (rowid, "id", "name", "sha256", "byte_count", "read_at", "options", "accepted", "rejected", "skipped") SELECT rowid, "id", "name", "sha256", "byte_count", "read_at", "options", "accepted", "rejected", "skipped" FROM note_files ORDER BY rowid;

DROP TABLE note_files;

ALTER TABLE note_files_new RENAME TO note_files;

ALTER TABLE note_rejects ADD COLUMN "closed_by" TEXT REFERENCES note_files(id);

ALTER TABLE note_rejects ADD COLUMN "closed_line" INTEGER CHECK ("closed_line" >= 1);

CREATE INDEX note_rejects_by_closed_by ON note_rejects ("closed_by") WHERE "closed_by" IS NOT NULL;

ALTER TABLE calculations ADD COLUMN "entry" TEXT;

ALTER TABLE calculations ADD COLUMN "fingerprint" TEXT;

DROP INDEX calculations_by_subject_table_subject_id;

CREATE INDEX calculations_by_subject_table_subject_id_calculator ON calculations ("subject_table", "subject_id", "calculator");

CREATE INDEX calculations_by_version_calculator_fingerprint ON calculations ("version", "calculator", "fingerprint");

DROP TABLE clashes;

CREATE TABLE clashes (
    id TEXT PRIMARY KEY NOT NULL,
    "table_name" TEXT NOT NULL,
    "row_id" TEXT NOT NULL,
    "why" TEXT NOT NULL CHECK ("why" = 'changed' OR "why" = 'removed' OR "why" = 'needed'),
    "shown" TEXT NOT NULL,
    "others" TEXT NOT NULL,
    "differing" TEXT NOT NULL
) STRICT;

ALTER TABLE entries ADD COLUMN "took_back" TEXT;

ALTER TABLE entries ADD COLUMN "reason" TEXT;

ALTER TABLE diff_facts ADD COLUMN "limit_fill_window_g" REAL;

CREATE INDEX history_beside ON history (table_name, row_id, id) WHERE content IS NOT NULL AND replaced_at IS NULL;

CREATE VIRTUAL TABLE scale_readings_search USING fts5("thing", content="scale_readings", tokenize='unicode61 remove_diacritics 2');

INSERT INTO scale_readings_search (rowid, "thing") SELECT rowid, "thing" FROM scale_readings;

DROP TABLE diffs_search;

CREATE VIRTUAL TABLE diffs_search USING fts5("label", "mark", "note", content="diffs", tokenize='unicode61 remove_diacritics 2');

INSERT INTO diffs_search (rowid, "label", "mark", "note") SELECT rowid, "label", "mark", "note" FROM diffs;

CREATE VIRTUAL TABLE photos_search USING fts5("note", content="photos", tokenize='unicode61 remove_diacritics 2');

INSERT INTO photos_search (rowid, "note") SELECT rowid, "note" FROM photos;

CREATE VIRTUAL TABLE car_values_search USING fts5("what", "value", "note", content="car_values", tokenize='unicode61 remove_diacritics 2');

INSERT INTO car_values_search (rowid, "what", "value", "note") SELECT rowid, "what", "value", "note" FROM car_values;
