"""What is put into a car: one line of words may make several records."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from bevelbook.cli import print_json, print_text

if TYPE_CHECKING:
    from bevelbook.cli.session import Session
    from bevelbook.records import Kind


def put_in_car(session: Session, kind: Kind, texts: dict[str, str], short: list[dict[str, str]], as_json: bool) -> int:
    """Write the records, each of the fields in ``short`` with ``texts`` that they share, and say what left which car.

    What is in its place already is not written again.
    """
    from bevelbook.cli.naming import AsFieldWords, named
    from bevelbook.entering import car_set
    from bevelbook.entering.defaults import filled_in, with_reasons
    from bevelbook.entering.record import prepare, write
    from bevelbook.entering.shown_values import shown_values
    from bevelbook.facts.car_diffs import in_cars
    from bevelbook.store.ids import now_utc
    from bevelbook.store.record_names import with_kind

    written: list[dict[str, Any]] = []
    said: list[str] = []
    why: dict[str, str] = {}
    with session.writing() as connection, named(AsFieldWords(kind.fields)):
        if "car" not in texts and (only := car_set.only_car(connection)):
            texts["car"], why = only, {"car": car_set.ONLY_CAR}
        texts, of_defaults = filled_in(connection, kind, texts, session.by, now_utc())
        why |= of_defaults
        before = in_cars(connection)
        stamp = now_utc()
        for fields in short or [{}]:
            entry = with_reasons(prepare(connection, kind, None, {**texts, **fields}), why)
            already = car_set.already_there(connection, kind, entry.values)
            if already:
                said.append(already)
                continue
            done = write(connection, entry, session.by, lambda: stamp)
            written.append(
                {
                    "id": done.row_id,
                    "label": done.label,
                    "values": shown_values(connection, kind, done.row_id),
                    "taken": dict(entry.taken),
                }
            )
        said += car_set.changes(before, in_cars(connection))
    if as_json:
        print_json({"record": kind.name, "written": written, "said": said, **session.noticed()})
        return 0
    for one in written:
        print_text(f"Added {with_kind(kind, one['label'])}")
        for key, value in one["values"].items():
            reason = one["taken"].get(key)
            if reason or not short:
                print_text(f"  {key}: {value}" + (f"  ({reason})" if reason else ""))
    for line in (*said, *(car_set.from_when_words(one["values"]) for one in written[-1:])):
        print_text(line)
    return 0
