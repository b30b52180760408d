-- the last build of a diff and the builds that lost oil by index; the shelf goes by what the scale can tell
DROP INDEX builds_by_diff;

CREATE INDEX builds_by_diff_built_on_note_line_created_at_id ON builds ("diff", "built_on", "note_line", "created_at", "id");

DROP INDEX calculations_by_calculator;

CREATE INDEX calculations_by_calculator_verdict ON calculations ("calculator", "verdict");
