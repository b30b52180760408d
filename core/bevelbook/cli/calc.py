"""``bevelbook calc NAME``: options, help and output all follow from the calculator's declaration."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Final

import click

from bevelbook.calculating.example import example_words
from bevelbook.cli import calc_rows, print_fault, print_json, print_text, say_if_invented
from bevelbook.cli.files import FROM_DASH, FileToRead, ReadFrom
from bevelbook.cli.global_options import GIVEN, global_options, in_words, take_globals
from bevelbook.cli.session import Session
from bevelbook.declare.errors import InputError, Place, PluginFault
from bevelbook.declare.fields import Field, fields_of
from bevelbook.declare.in_command import command_of
from bevelbook.declare.naming import WithArticle
from bevelbook.declare.sentence import Named, Sentence, in_terms_of, parts_of
from bevelbook.manual.commands import SHORT_OPTIONS
from bevelbook.plugin.calculator import Calculator

if TYPE_CHECKING:
    from bevelbook.calculating.keep import BatchReport
    from bevelbook.calculating.kept_otherwise import BesideKept

_AHEAD: Final = ("--debug", "--quiet", "--plugins")
"""The options of every command that count before it is known which calculator is asked."""
_AHEAD_AS_TYPED: Final = frozenset((*_AHEAD, *(SHORT_OPTIONS[one] for one in _AHEAD if one in SHORT_OPTIONS)))


class CalculatorCommand(click.Command):
    """A calculator's command: its help says where it holds, and ends with the cautions of the work.

    These are read only when the help is asked for.
    """

    def __init__(self, calculator: Calculator[Any, Any], **more: Any) -> None:
        super().__init__(calculator.name, **more)
        self.calculator = calculator

    def format_help_text(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        super().format_help_text(ctx, formatter)
        with formatter.section("Valid range"):
            _write_list(formatter, self.calculator.valid)

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The options of a whole table under a heading of their own."""
        of_a_table = [one for one in self.get_params(ctx) if one.name in calc_rows.NAMES]
        others = [one for one in self.get_params(ctx) if one.name not in calc_rows.NAMES]
        for title, params in (("Options", others), (calc_rows.OPTIONS_HEADING, of_a_table)):
            with formatter.section(title):
                formatter.write_dl([record for one in params if (record := one.get_help_record(ctx)) is not None])

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        from bevelbook.reference import RULES_FIRST

        cautions = self.calculator.cautions
        if cautions:
            with formatter.section("Cautions"):
                _write_list(formatter, cautions)
                formatter.write_text(RULES_FIRST)
        super().format_epilog(ctx, formatter)


def _write_list(formatter: click.HelpFormatter, lines: Iterable[str]) -> None:
    from bevelbook.display.wrapping import wrapped_under

    for one in lines:
        formatter.write("\n".join(wrapped_under(one, formatter.width, "  - ", "    ")) + "\n")


class Calculators(click.Group):
    """A subcommand for each calculator of the registry."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The calculator, of the plugins that may be named behind it."""
        session = session_of(ctx)
        if not any(word.partition("=")[0] in _AHEAD_AS_TYPED for word in args[1:]):
            return super().resolve_command(ctx, args)
        for one in in_words(
            args[1:], [*_common_options(), *calc_rows.options(()), *global_options(ctx)], takes_value=True
        ):
            if one.option is not None and one.option.called in _AHEAD:
                held = session.loaded.in_force(args[0]) if one.option.called != "--debug" else None
                if held is None or one.option.called not in [field.option for field in held.calculator.inputs]:
                    one.option.take(ctx, one.value)
        return super().resolve_command(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(session_of(ctx).registry.calculators)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        return _command_of(session_of(ctx).registry.calculator(cmd_name).calculator)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        registry = session_of(ctx).registry
        with formatter.section("Calculators"):
            formatter.write_dl(
                [(name, registry.calculator(name).calculator.purpose) for name in self.list_commands(ctx)]
            )


def session_of(ctx: click.Context) -> Session:
    """The session; one of the options so far where only words are completed, and no command runs."""
    return ctx.find_object(Session) or Session(ctx.meta.get(GIVEN))


@click.group("calc", cls=Calculators, subcommand_metavar="NAME [INPUTS]...")
def command() -> None:
    """Run a calculator. Without --keep it needs no database.

    Numbers take a unit ("12.4 g", "12400 mg", "68 °F"), a decimal point or comma, and an uncertainty:
    "12.40 +/- 0.02 g (k = 2)" is carried to every output and means what is printed so, two standard uncertainties;
    (k = 1) is one. Without its k it is taken as k = 2, as printed here.
    """


def _command_of(calculator: Calculator[Any, Any]) -> click.Command:
    params: list[click.Parameter] = [_option(field) for field in calculator.inputs]
    listing = calculator.listing_in
    if listing is not None:
        params.append(
            click.Option(
                [f"--{listing.name.replace('_', '-')}-file", "listing_file"],
                type=FileToRead(),
                help=f"{listing.about}, from a CSV file with the columns {_columns(listing)}; {FROM_DASH}",
            )
        )
    params += [*_common_options(), *calc_rows.options({field.option for field in calculator.inputs})]

    @click.pass_obj
    def callback(session: Session, /, **values: Any) -> None:
        _run(session, calculator, values)

    return take_globals(
        CalculatorCommand(
            calculator,
            params=params,
            callback=callback,
            help=f"{calculator.question}\n\n{_help_text(calculator)}",
            short_help=calculator.purpose,
            epilog=_epilog(calculator),
        )
    )


def _common_options() -> list[click.Parameter]:
    """The options of every calculator."""
    return [
        click.Option(
            ["--for", "subjects"],
            multiple=True,
            metavar="RECORD",
            help="Take what is not given from this record, such as rear-a/3 or scale:pocket. May be repeated.",
        ),
        click.Option(
            ["--all", "every"],
            metavar="KIND",
            help="Run for every record of a kind (build, run_diff, ...) and keep each result.",
        ),
        click.Option(["--keep"], is_flag=True, help="Write the result to the database as a row."),
        click.Option(["--json", "as_json"], is_flag=True, help="Print data for programs."),
        click.Option(["--explain"], is_flag=True, help="Show how it was worked out, the valid range and the sources."),
    ]


def _option(field: Field) -> click.Option:
    about = field.described()
    if field.choices:
        about += f": {', '.join(field.choices)}"
    if field.kind == "listing":
        parts = [part.stem for part in fields_of(field.item)]
        about += ", one after the other"
        about += f", each with a colon between its values: {', '.join(parts)}" if len(parts) > 1 else ""
    if not field.required and field.default not in (None, ()):
        default = f"{field.default:g}" if isinstance(field.default, float) else str(field.default)
        about += f" ({default} if not given)"
    return click.Option(
        [field.option, field.name], multiple=field.kind == "listing", metavar=_metavar(field), help=about + "."
    )


def _metavar(field: Field) -> str:
    if field.kind == "listing":
        shape = field.needed_shape.upper()
        return shape + (":..." if field.item_shape != field.needed_shape else "")
    if field.kind == "quantity":
        return "NUMBER" if field.unit == "1" else str(field.unit).upper() if field.unit == "runs" else f"[{field.unit}]"
    return field.kind.upper()


def _columns(field: Field) -> str:
    return ", ".join(one.name for one in fields_of(field.item))


def _help_text(calculator: Calculator[Any, Any]) -> str:
    naming = WithArticle(calculator.inputs)
    parts = [f"{in_terms_of(naming, choice.after('Needs '))}." for choice in calculator.one_of]
    return "\n\n".join(parts)


def _epilog(calculator: Calculator[Any, Any]) -> str:
    return f"Example: {command_of('calc', calculator.name, *example_words(calculator, calculator.worked[0]))}"


def _run(session: Session, calculator: Calculator[Any, Any], values: dict[str, Any]) -> None:
    from bevelbook.cli.naming import AsOptions, named

    with named(AsOptions(calculator.inputs)):
        _run_named(session, calculator, values)


def _run_named(session: Session, calculator: Calculator[Any, Any], values: dict[str, Any]) -> None:
    from bevelbook.calculating.calculate import bind, run, said_texts

    offered = session.registry.calculator(calculator.name)
    texts = said_texts(calculator, _texts(calculator, values))
    subjects, known = [], {}
    opened: dict[str, str] = {}
    beside: BesideKept | None = None
    if not calc_rows.is_asked(values):
        calc_rows.refuse_without_rows(values)
    elif values["every"] or values["explain"]:
        raise click.UsageError("--rows goes without --all and --explain: it has a result for each row.")
    if values["every"]:
        _run_batch(session, offered, values, texts)
        return
    if values["keep"]:
        session.open_for_writing().close()
    if values["subjects"]:
        from bevelbook.calculating.known import find_subject, known_of, when_opened

        with session.reading() as connection:
            subjects = [find_subject(connection, named) for named in values["subjects"]]
            known = known_of(connection, offered.calculator, subjects, texts)
            opened = when_opened(connection, subjects)
    elif any(field.kind == "listing" and not texts.get(field.name) for field in calculator.inputs):
        known = _of_team(session, offered, texts, is_needed=not calc_rows.is_asked(values))
    if calc_rows.is_asked(values):
        calc_rows.run_rows(session, offered, values, texts, known, subjects)
        return
    try:
        result = run(calculator, bind(calculator, texts, known))
    except InputError as fault:
        if subjects and fault.code == "missing_input":
            _say_where_written(session, calculator, subjects, texts, fault)
        raise
    kept = None
    subject = subjects[0] if subjects else None
    if values["keep"]:
        from bevelbook.calculating.keep import keep_result
        from bevelbook.calculating.kept_otherwise import BesideKept, other_formula
        from bevelbook.store.ids import now_utc

        with session.writing() as connection:
            kept = keep_result(connection, offered, result, subject, session.by, now_utc())
            beside = BesideKept(kept.otherwise, other_formula(connection, calculator))
    elif subjects:
        from bevelbook.calculating.keep import said_beside

        with session.reading() as connection:
            beside = said_beside(connection, offered, result, subject)
    said = beside.sentences() if beside else ()
    if values["as_json"]:
        print_json(
            {"invented": session.invented}
            | result.as_dict()
            | ({"opened": opened} if opened else {})
            | ({"kept": kept.as_dict()} if kept else {})
            | {"kept_results_say": list(said)}
            | session.noticed()
        )
    else:
        from bevelbook.calculating.result_text import result_lines
        from bevelbook.display.format import wrapped

        is_at_work = result.judgement.in_words_only
        of_records = [] if is_at_work else [f"{label}: {words}" for label, words in opened.items()]
        print_text("\n".join(result_lines(result, beside=of_records, explain=values["explain"])))
        if kept and kept.otherwise is None:
            print_text(f"\n{kept.words}")
        if said:
            print_text("\n" + "\n".join(line for one in said for line in wrapped(one)))
        say_if_invented(session.invented)
        if values["explain"]:
            _end_where_failed(result.working_or_fault()[1])
    differs = beside.otherwise if beside else None
    if result.verdict == "stop" or (differs and (differs.figures or kept)):
        click.get_current_context().exit(1)


def _say_where_written(
    session: Session, calculator: Calculator[Any, Any], subjects: list[Any], texts: dict[str, Any], fault: InputError
) -> None:
    """Have an error about a chosen record say which field, or which further record, would give what is missing."""
    from bevelbook.calculating.dry_mass_input import COLUMN, why_no_dry_mass
    from bevelbook.calculating.missing import in_words, short_listing, where_written

    listing = calculator.listing_in
    with session.reading() as connection:
        if listing is not None and fault.place.field == listing.name and listing.name not in texts:
            short = short_listing(connection, calculator, subjects)
            if short is not None:
                fault.what, fault.remedy, fault.wanted, fault.place = short.what, short.remedy, None, Place()
            return
        more = in_words(where_written(connection, calculator, subjects, fault.fields()))
        if any(field.same_as == COLUMN for field in calculator.inputs if field.name in fault.fields()):
            builds = [one.row_id for one in subjects if one.kind.name == "build"]
            why = why_no_dry_mass(connection, builds)
            if why is not None:
                more = why.remedy() if why.open_diff is not None else f"{more} {why.words}".strip()
    if more:
        fault.remedy = Sentence(*parts_of(fault.remedy or ""), f" {more}")


def _end_where_failed(fault: PluginFault | None) -> None:
    """End with the fault of a plugin that failed while the rest was printed."""
    if fault is not None:
        print_fault(fault, as_json=False)
        click.get_current_context().exit(fault.exit_code)


def _of_team(session: Session, offered: Any, texts: dict[str, Any], *, is_needed: bool) -> dict[str, Any]:
    """What the team's records say; where it is needed, there has to be a listing. Raises InputError."""
    from bevelbook.calculating.binding import LISTINGS
    from bevelbook.calculating.known import asks_the_team, known_of_team
    from bevelbook.formulas.left_out import LEFT_OUT

    if not asks_the_team(offered.calculator) or not session.path.exists():
        return {}
    with session.reading() as connection:
        known = known_of_team(connection, offered.calculator, texts)
    listing = offered.calculator.listing_in
    if is_needed and listing.same_as not in known and listing.required and not texts.get(listing.name):
        raise InputError(
            "; ".join((f"no record in {session.path.name} fits", *known.get(LEFT_OUT, ((), ""))[0])),
            code="no_records",
            place=Place(field=listing.name),
            wanted=LISTINGS[listing.same_as].about,
            remedy=Sentence("Write more down first, or give ", Named(listing.name), "."),
        )
    return known


def _run_batch(session: Session, offered: Any, values: dict[str, Any], texts: dict[str, Any]) -> None:
    from bevelbook.calculating.keep import batch
    from bevelbook.display.format import wrapped
    from bevelbook.records import kind_called
    from bevelbook.store.ids import now_utc

    kind = kind_called(values["every"])
    with session.writing() as connection:
        report = batch(connection, offered, kind, texts, session.by, now_utc)
    if values["as_json"]:
        print_json({"invented": session.invented} | report.as_dict() | session.noticed())
        _end_batch(report)
        return
    name = offered.calculator.name
    print_text(f"{name} for every {kind.name.replace('_', ' ')}: {report.computed} computed, {report.new} new.")
    for reason, count in sorted(report.left_out.items(), key=lambda one: -one[1]):
        print_text(f"  {count} left out: {reason}")
    for line in report.lines_of_kept():
        print_text("\n".join(wrapped(line, indent="  ")))
    say_if_invented(session.invented)
    _end_batch(report)


def _end_batch(report: BatchReport) -> None:
    _end_where_failed(report.fault)
    if report.otherwise:
        click.get_current_context().exit(1)


def _texts(calculator: Calculator[Any, Any], values: dict[str, Any]) -> dict[str, Any]:
    texts: dict[str, Any] = {}
    for field in calculator.inputs:
        value = values.get(field.name)
        if value is not None and value != ():
            texts[field.name] = list(value) if field.kind == "listing" else value
    listing = calculator.listing_in
    if listing is not None and values.get("listing_file"):
        texts[listing.name] = [*texts.get(listing.name, []), *texts_from_file(listing, values["listing_file"])]
    return texts


def texts_from_file(listing: Field, path: ReadFrom) -> list[str]:
    """The items of a listing from a CSV file with its columns, each as it is typed after an option, with its
    line."""
    import csv
    from io import TextIOWrapper

    from bevelbook.calculating.calculate import ItemOfFile

    names = [field.name for field in fields_of(listing.item)]
    needed = [field.name for field in fields_of(listing.item) if field.required]
    try:
        with TextIOWrapper(path.open("rb"), encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            missing = [name for name in needed if name not in (reader.fieldnames or [])]
            if missing:
                raise InputError(
                    f"the file has no column {' and no column '.join(missing)}",
                    code="missing_column",
                    place=Place(str(path), 1),
                    wanted=", ".join(names),
                )
            return [
                ItemOfFile(
                    ":".join((row.get(name) or "").strip() for name in names).rstrip(":"),
                    Place(str(path), reader.line_num),
                )
                for row in reader
            ]
    except (OSError, UnicodeDecodeError, csv.Error) as fault:
        raise InputError(
            "cannot be read as CSV", code="not_readable", place=Place(str(path)), found=str(fault)
        ) from fault
