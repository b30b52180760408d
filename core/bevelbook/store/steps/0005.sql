-- events to prepare for and the cars that go there, runs of events, parts in stock with deliveries and kits, bottles checked, plans that were kept, minutes of more jobs with their waiting, the runs at which the limit of oil lost is reached
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
    "runs_per_car" REAL CHECK ("runs_per_car" > 0),
    "note" TEXT
) STRICT;

CREATE INDEX events_by_venue ON events ("venue") WHERE "venue" IS NOT NULL;

CREATE INDEX events_by_first_on ON events ("first_on");

CREATE INDEX events_by_note_file_note_line ON events ("note_file", "note_line");

CREATE INDEX events_impossible ON events (id) WHERE ("runs_per_car" <> 0 AND "runs_per_car" NOT BETWEEN 1e-12 AND 1000000000000.0);

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
    "runs" REAL CHECK ("runs" > 0),
    "note" TEXT
) STRICT;

CREATE INDEX event_cars_by_event ON event_cars ("event");

CREATE INDEX event_cars_by_car ON event_cars ("car");

CREATE INDEX event_cars_by_note_file_note_line ON event_cars ("note_file", "note_line");

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
    "bore_mm" REAL CHECK ("bore_mm" > 0),
    "outside_diameter_mm" REAL CHECK ("outside_diameter_mm" > 0),
    "least" INTEGER CHECK ("least" >= 0),
    "note" TEXT
) STRICT;

CREATE INDEX stock_parts_by_seal ON stock_parts ("seal") WHERE "seal" IS NOT NULL;

CREATE INDEX stock_parts_by_note_file_note_line ON stock_parts ("note_file", "note_line");

CREATE INDEX stock_parts_impossible ON stock_parts (id) WHERE ("bore_mm" <> 0 AND "bore_mm" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("outside_diameter_mm" <> 0 AND "outside_diameter_mm" NOT BETWEEN 1e-12 AND 1000000000000.0);

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

CREATE INDEX stock_changes_by_note_file_note_line ON stock_changes ("note_file", "note_line");

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

CREATE INDEX kit_parts_by_note_file_note_line ON kit_parts ("note_file", "note_line");

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
    "mass_g" REAL CHECK ("mass_g" > 0),
    "level" TEXT CHECK ("level" IS NULL OR "level" = 'full' OR "level" = 'about half' OR "level" = 'nearly empty'),
    "scale" TEXT REFERENCES scales(id),
    "person" TEXT REFERENCES people(id),
    "note" TEXT
) STRICT;

CREATE INDEX bottle_checks_by_bottle ON bottle_checks ("bottle");

CREATE INDEX bottle_checks_by_scale ON bottle_checks ("scale") WHERE "scale" IS NOT NULL;

CREATE INDEX bottle_checks_by_checked_on ON bottle_checks ("checked_on");

CREATE INDEX bottle_checks_by_note_file_note_line ON bottle_checks ("note_file", "note_line");

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

CREATE INDEX plans_by_note_file_note_line ON plans ("note_file", "note_line");

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
    "place" INTEGER NOT NULL CHECK ("place" >= 1),
    "diff" TEXT NOT NULL REFERENCES diffs(id),
    "build" TEXT REFERENCES builds(id),
    "car" TEXT REFERENCES cars(id),
    "position" TEXT CHECK ("position" IS NULL OR "position" = 'front' OR "position" = 'centre' OR "position" = 'rear'),
    "act" TEXT NOT NULL CHECK ("act" = 'leave it' OR "act" = 'unclear' OR "act" = 'weigh it' OR "act" = 'look at it' OR "act" = 'change the oil' OR "act" = 'rebuild' OR "act" = 'build a second one'),
    "why" TEXT,
    "oil" TEXT,
    "runs_planned" REAL CHECK ("runs_planned" >= 0)
) STRICT;

CREATE INDEX plan_lines_by_plan ON plan_lines ("plan");

CREATE INDEX plan_lines_by_diff ON plan_lines ("diff");

CREATE INDEX plan_lines_by_build ON plan_lines ("build") WHERE "build" IS NOT NULL;

CREATE INDEX plan_lines_by_car ON plan_lines ("car") WHERE "car" IS NOT NULL;

CREATE INDEX plan_lines_by_note_file_note_line ON plan_lines ("note_file", "note_line");

CREATE INDEX plan_lines_impossible ON plan_lines (id) WHERE ("runs_planned" <> 0 AND "runs_planned" NOT BETWEEN 1e-12 AND 1000000000000.0);

ALTER TABLE bench_steps ADD COLUMN "waits" TEXT CHECK ("waits" IS NULL OR "waits" = 'yes' OR "waits" = 'no');

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

INSERT INTO runs_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "label", "run_on", "started_at", "day_order", "event", "venue", "car", "driver", "noted_by", "surface_state", "grip", "grip_trend", "air_temp_c", "track_temp_c", "runs", "laps", "lap_times", "best_lap_s", "best_five_s", "tyres", "tyre_runs", "changed", "balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened", "call", "note" FROM runs ORDER BY rowid;

DROP TABLE runs;

ALTER TABLE runs_new RENAME TO runs;

CREATE INDEX runs_by_event ON runs ("event") WHERE "event" IS NOT NULL;

CREATE INDEX runs_by_venue_run_on ON runs ("venue", "run_on") WHERE "venue" IS NOT NULL;

CREATE INDEX runs_by_car ON runs ("car") WHERE "car" IS NOT NULL;

CREATE INDEX runs_by_run_on ON runs ("run_on");

CREATE INDEX runs_by_note_file_note_line ON runs ("note_file", "note_line");

CREATE INDEX runs_by_label ON runs ("label" COLLATE NOCASE);

CREATE INDEX runs_impossible ON runs (id) WHERE ("runs" <> 0 AND "runs" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("best_lap_s" <> 0 AND "best_lap_s" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("best_five_s" <> 0 AND "best_five_s" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("tyre_runs" <> 0 AND "tyre_runs" NOT BETWEEN 1e-12 AND 1000000000000.0);

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

CREATE INDEX joins_by_note_file_note_line ON joins ("note_file", "note_line");

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
    "minutes" REAL NOT NULL CHECK ("minutes" > 0),
    "diff" TEXT REFERENCES diffs(id),
    "note" TEXT,
    "waiting_minutes" REAL CHECK ("waiting_minutes" >= 0),
    "car" TEXT REFERENCES cars(id),
    "position" TEXT CHECK ("position" IS NULL OR "position" = 'front' OR "position" = 'centre' OR "position" = 'rear')
) STRICT;

INSERT INTO job_times_new (rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "job", "minutes", "diff", "note") SELECT rowid, "id", "version", "parents", "entered", "note_file", "note_line", "created_at", "updated_at", "updated_by", "job", "minutes", "diff", "note" FROM job_times ORDER BY rowid;

DROP TABLE job_times;

ALTER TABLE job_times_new RENAME TO job_times;

CREATE INDEX job_times_by_diff ON job_times ("diff") WHERE "diff" IS NOT NULL;

CREATE INDEX job_times_by_car ON job_times ("car") WHERE "car" IS NOT NULL;

CREATE INDEX job_times_by_note_file_note_line ON job_times ("note_file", "note_line");

CREATE INDEX job_times_impossible ON job_times (id) WHERE ("minutes" <> 0 AND "minutes" NOT BETWEEN 1e-12 AND 1000000000000.0) OR ("waiting_minutes" <> 0 AND "waiting_minutes" NOT BETWEEN 1e-12 AND 1000000000000.0);

ALTER TABLE build_facts ADD COLUMN "stop_low_runs" REAL CHECK ("stop_low_runs" >= 0);

ALTER TABLE build_facts ADD COLUMN "stop_runs" REAL CHECK ("stop_runs" >= 0);

ALTER TABLE build_facts ADD COLUMN "stop_high_runs" REAL CHECK ("stop_high_runs" >= 0);

CREATE VIRTUAL TABLE events_search USING fts5("name", "note", content="events", tokenize='unicode61 remove_diacritics 2');

INSERT INTO events_search (rowid, "name", "note") SELECT rowid, "name", "note" FROM events;

DROP TABLE runs_search;

CREATE VIRTUAL TABLE runs_search USING fts5("changed", "happened", "note", content="runs", tokenize='unicode61 remove_diacritics 2');

INSERT INTO runs_search (rowid, "changed", "happened", "note") SELECT rowid, "changed", "happened", "note" FROM runs;

CREATE VIRTUAL TABLE stock_parts_search USING fts5("label", "note", content="stock_parts", tokenize='unicode61 remove_diacritics 2');

INSERT INTO stock_parts_search (rowid, "label", "note") SELECT rowid, "label", "note" FROM stock_parts;
