"""Every code of an error in a command or on a page: what it means and what to do.

``notes/report.py`` has what the same codes, and others, mean where notes are imported.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.declare.coverage import EXAMPLE


class ErrorCode(NamedTuple):
    """A code in words: what went wrong, and what to do about it."""

    means: str
    remedy: str


INPUT_CODES: Final = {
    "no_plugin_file": ErrorCode(
        "what is to be looked over as a plugin is not a file of Python",
        "Name a file that ends in .py: 'bevelbook plugin check mine/tyre_age.py'.",
    ),
    "name_of_plugin": ErrorCode(
        "a calculator was to be begun under a name that no file or no calculator can have, or that is taken",
        "Type the name that is shown, or another one in small letters: 'bevelbook plugin new tyre-age'.",
    ),
    "not_a_text": ErrorCode(
        "a field is to be erased that holds no text of people: a number, a choice, the name of a diff",
        "Only texts are erased; change or remove the rest.",
    ),
    "not_confirmed": ErrorCode(
        "something that cannot be taken back was asked for, and nobody said yes",
        "Answer with y, or say so beforehand: 'bevelbook erase person NAME --yes'.",
    ),
    "only_of_a_person": ErrorCode("an option of erasing a person was given for something else", "Leave it out."),
    "picture_shown_elsewhere": ErrorCode(
        "a photograph is to be erased whose picture another photograph shows too", "Erase or remove that one first."
    ),
    "meeting_does_not_fit": ErrorCode(
        "a database that is to come in has a record that refers to nothing, or that the checks of a table refuse",
        "Have its owner run 'bevelbook check' there and send it again. Nothing was changed.",
    ),
    "invented_and_real": ErrorCode(
        "of two databases that are to become one, one says that all of it is invented, and the other does not",
        "Keep them apart: figures of the demo would stand among your own.",
    ),
    "no_form": ErrorCode(
        "a table is to be written, but not in which form", "Say it: 'bevelbook export --table NAME --csv FILE'."
    ),
    "names_of_a_view": ErrorCode(
        "names were asked for beside the references of a view, which has the names that it needs",
        "Leave them out, or choose a table of records: 'bevelbook export --table runs --names --csv FILE'.",
    ),
    "name_with_folder": ErrorCode(
        "a file from standard input is to be called something with a folder in it", "Give the name alone: season.csv."
    ),
    "no_pyarrow": ErrorCode(
        "a table is to be written as Parquet, but the library for it is not installed",
        "Install it with pip install 'bevelbook[parquet]', or write CSV or NDJSON.",
    ),
    "names_are_words": ErrorCode(
        "names of people that are to be replaced in notes are words of everyday language as well, and nobody could be "
        "asked",
        "Look at the places that it names, then say so: 'bevelbook edition FOLDER --without-people --yes'.",
    ),
    "title_names_a_person": ErrorCode(
        "an edition is to name nobody, but the name of the database, the title, the terms or the source names one of "
        "its people",
        "Say it without that name, or write it from a database of another name; the message says how.",
    ),
    "not_an_edition": ErrorCode(
        "a folder is to be replaced by an edition, and holds something else or an edition of another database",
        "Name a new folder, or an earlier edition of this database; the message names what else is there.",
    ),
    "is_edition": ErrorCode(
        "an edition is to be written to or merged; it is a copy to read, without what a merge needs to know",
        "Start a database with it: 'bevelbook --db mine.db new --from FILE'. Merge the database it was made from.",
    ),
    "not_an_export": ErrorCode(
        "a folder is to be replaced by an export, and holds something else, or one is to be read and is not an export",
        "Name a new folder, or an earlier export; the message names what else is there.",
    ),
    "export_damaged": ErrorCode(
        "what an export says of itself, in datapackage.json, cannot be read",
        "Have it exported again, and the folder copied whole.",
    ),
    "export_newer": ErrorCode("an export was made by a newer version", "Update bevelbook."),
    "export_files": ErrorCode(
        "a file of an export is missing, or one is there that does not belong to it",
        "Copy the folder whole; the message names the file.",
    ),
    "export_link": ErrorCode(
        "a file of an export is a link to somewhere else, which is not followed",
        "Put the file itself into the folder.",
    ),
    "export_mended": ErrorCode(
        "a file of an export was changed after it was written",
        "Type the change with 'bevelbook record', or bring rows in with 'bevelbook import FILE'; or export again.",
    ),
    "export_columns": ErrorCode(
        "a file of an export has other columns, or has them in another order",
        "Have it exported again.",
    ),
    "export_value": ErrorCode(
        "a file of an export holds something that cannot be in its place",
        "Have it exported again; the message names the line.",
    ),
    "export_reference": ErrorCode(
        "a row of an export refers to a row that is not in it",
        "Ask for an export made from the database after 'bevelbook check'.",
    ),
    "nul_in_text": ErrorCode(
        "a text holds the character NUL, which no CSV file can hold; another program wrote it",
        "Correct the text that the message names, then export again.",
    ),
    "no_pyserial": ErrorCode(
        "a scale is to be read, but the library for it is not installed",
        "Install it with pip install 'bevelbook[scale]', or leave the scale out.",
    ),
    "no_scale_port": ErrorCode(
        "the port of a scale cannot be opened: it is not there, another program has it, or you may not open it",
        "The message names the ports there are. Plug the scale in, choose another port, or end the other program.",
    ),
    "scale_line_setting": ErrorCode(
        "the setting of a scale's line, or what the scale is to be asked with, cannot be used",
        "Give baud, bits, parity and stop bits as the scale's own menu shows them, such as 9600,8N1.",
    ),
    "clash_changed": ErrorCode(
        "a clash is another one than the one that was looked at: another version came in, or it was settled in part",
        "Look at it again and choose by the new numbers; nothing was settled.",
    ),
    "clash_not_both": ErrorCode(
        "both versions of a clash cannot hold: they changed the same field",
        "Choose one of them, by its number or its value.",
    ),
    "no_such_version": ErrorCode(
        "no version of a clash has that number or says that, or several do",
        "Choose one of the numbers that are shown.",
    ),
    "not_in_clash": ErrorCode(
        "a record is not in clash any more: somebody settled it meanwhile", "Look at what it says now."
    ),
    "number_or_value": ErrorCode(
        "a number may be that of a version or the value that it says", "Type the field with it: FIELD=VALUE."
    ),
    "settle_alone": ErrorCode(
        "a clash is to be settled in the same command that merges", "Merge first, then settle what is in clash."
    ),
    "changed_meanwhile": ErrorCode(
        "somebody else changed the same field of a record while its form was open",
        "Choose on the page which of the two values is right; nothing was stored yet.",
    ),
    "stored_meanwhile": ErrorCode(
        "somebody stored a run of the same day while a run sheet was open, and a line may be that run",
        "Say on the page whether it is the same run or another one; nothing was stored yet.",
    ),
    "removed_meanwhile": ErrorCode(
        "the record was removed while its form was open",
        "What was typed is on the page, to copy; taking back the removal brings the record back.",
    ),
    "which_day": ErrorCode(
        "a form stayed open past midnight, so its record may be of the day it showed or of today",
        "Choose the day on the page; nothing was stored yet.",
    ),
    "old_form": ErrorCode(
        "a form was opened before bevelbook was updated, and its fields are others now",
        "What was typed is on the page: check it and store it again.",
    ),
    "none_of_several": ErrorCode(
        "a photograph was not hung on anything",
        "Hang it on one thing: an opening, a part, a fitted seal, a build or a bottle.",
    ),
    "several_of_one": ErrorCode(
        "a photograph would hang on several things at once",
        "Name one of them; to hang it elsewhere, empty the other: 'bevelbook record photo NAME build= bottle=...'.",
    ),
    "no_picture_sent": ErrorCode(
        "a photograph came without a picture, or the file is empty",
        "Choose a picture; on the command line name it with 'bevelbook record photo --file FILE ...'.",
    ),
    "two_pictures": ErrorCode(
        "two pictures came in the form of one photograph",
        "Choose one and store it, then take the other one.",
    ),
    "picture_too_big": ErrorCode(
        "the file of a picture is larger than 25 MB",
        "Take it with fewer pixels or choose a smaller copy; one of 12 million pixels is large enough.",
    ),
    "picture_too_many_pixels": ErrorCode(
        "a picture has more than 100 million pixels, or 30 million in another format than JPEG",
        "Take it with fewer pixels, save it as JPEG or choose a smaller copy; 12 million pixels are enough.",
    ),
    "not_a_picture": ErrorCode(
        "the file is not a picture, whatever its name says",
        "Choose a picture: JPEG, PNG, WebP, GIF or TIFF.",
    ),
    "picture_format": ErrorCode(
        "the file is a picture of a kind that cannot be read here, such as HEIC or a RAW file",
        'Set the camera of the phone to JPEG ("most compatible"), or save the picture as JPEG, and choose it again.',
    ),
    "picture_cut": ErrorCode(
        "the file begins as a picture, but is cut short or broken",
        "Take or copy the picture again; the file may have been cut on its way.",
    ),
    "pictures_not_readable": ErrorCode(
        "the package that reads pictures is not installed on this machine",
        "Run 'pip install \"bevelbook[photos]\"' and start bevelbook again.",
    ),
    "not_a_photograph": ErrorCode(
        "a picture was given or asked for, but the record named is not a photograph",
        "Name a photograph: 'bevelbook record photo --file FILE ...', 'bevelbook record photo NAME --save-as FILE'.",
    ),
    "picture_damaged": ErrorCode(
        "the picture of a photograph is gone or is not what was kept: another program changed the file",
        "Take it from a backup of the database, or take the photograph again.",
    ),
    "mass_basis_open": ErrorCode(
        "a reading may be of more than one known mass of the build",
        "Say what was on the scale: 'bevelbook record weighing ... mass_basis=closed'.",
    ),
    "full_not_over_empty": ErrorCode(
        "a bottle would weigh no more full than empty",
        "Read both again, with the cap on, and correct the wrong one: 'bevelbook record bottle NAME full_mass=...'.",
    ),
    "bottle_under_empty": ErrorCode(
        "a bottle on the scale would weigh less than the empty one",
        "Weigh it again with its cap on, or correct its empty mass: 'bevelbook record bottle NAME empty_mass=...'.",
    ),
    "bottle_over_full": ErrorCode(
        "a bottle on the scale would weigh more than the full one",
        "Weigh it again; if it was filled up, give it its new full mass: 'bevelbook record bottle NAME full_mass=...'.",
    ),
    "kit_not_delivered": ErrorCode(
        "a whole kit was counted or taken out",
        "Count or take out its parts one by one; only a delivery may be of a kit.",
    ),
    "dry_mass_differs": ErrorCode(
        "a dry mass typed at the bench is lighter or heavier than the last one of the diff",
        "Count shims, gasket, pins and screws and weigh it again; if it is right, say so on the page.",
    ),
    "not_full": ErrorCode(
        "the last reading while pouring is not in the window, or a decimal point slipped",
        "Pour on or draw off and type the reading again; or say on the page that it is stored as it is.",
    ),
    "dry_or_wet": ErrorCode(
        "a wet place was chosen at the bench, and a button that says otherwise was touched",
        "Say on the page which of the two it is.",
    ),
    "seal_not_to_go_back": ErrorCode(
        "a seal is to go back in at the bench, but a calculator says stop for what was measured of it",
        "Put a new one in; or say on the page that it goes in all the same.",
    ),
    "same_amount_off": ErrorCode(
        "two diffs weighed on one day are off their known masses by the same amount",
        "Look for a lid or a tray on the scale and weigh both again; if nothing else was on it, 'bevelbook record "
        "weighing ... --yes' keeps the reading.",
    ),
    "clock_behind": ErrorCode(
        "the clock of the machine is behind what is stored already",
        "Choose the day on the page, or set the clock right and send the form again.",
    ),
    "clock_ahead": ErrorCode(
        "the clock of the machine is long after the newest entry",
        "Say on the page that the clock is right, or set it right and send the form again.",
    ),
    "diff_twice_in_a_run": ErrorCode(
        "one diff is named in two places of the car in one run", "Name it once, where it sat; nothing was changed."
    ),
    "nothing_to_leave": ErrorCode(
        "a record was to be left empty of which nothing is asked for any more", "Nothing was changed."
    ),
    "nothing_and_something": ErrorCode(
        "“nothing” was chosen, and something beside it", "Take away one of the two; nothing was changed."
    ),
    "network_not_allowed": ErrorCode(
        "an address to listen on would open the book to a network",
        "Start it with 'bevelbook enter --host 0.0.0.0 --allow-network' if that is right; every device there can read, "
        "only paired phones write.",
    ),
    "other_address": ErrorCode(
        "paired phones know the book at another address, to which what waits on them is bound",
        "Start it at an address that they know, or with 'bevelbook enter --new-address': then what waits stays there.",
    ),
    "pairing_code_wrong": ErrorCode(
        "a code that pairs a phone is not the one shown", "Type the eight digits that the laptop shows now."
    ),
    "weekend_code_wrong": ErrorCode(
        "no weekend waits with the code that was typed for it: it was used, its time is over, or it is another",
        "Type the code that the other laptop shows now, or have it show a new one.",
    ),
    "laptop_address": ErrorCode(
        "what was typed is not the address of a laptop in a network of your own",
        "Type the numbers as the other laptop shows them, such as 192.168.1.7:8002.",
    ),
    "file_not_here": ErrorCode(
        "a file of notes or a picture is needed that did not come along when its record did",
        "Merge a whole export, or the database, of the one who has it; the message says who. Or import the file.",
    ),
    "not_gathered": ErrorCode(
        "another laptop was asked for its weekend, and it did not come",
        "The message says why. Nothing was changed; ask for a new code and try once more.",
    ),
    "pairing_codes_wait": ErrorCode(
        "several wrong codes came within a minute", "Wait as long as the sentence says; paired phones go on writing."
    ),
    "pairing_name": ErrorCode(
        "who holds a phone, or its name, is missing or unusable", "Choose a person, or type a name of up to 60 letters."
    ),
    "own_code_unknown": ErrorCode(
        "the pairing of a phone was ended", "Pair it once more with the code that the laptop shows."
    ),
    "phone_named_twice": ErrorCode(
        "two paired phones have one name", "Name one by its id: 'bevelbook enter --phones'."
    ),
    "written_already": ErrorCode(
        "the same record was stored a moment ago", "Nothing was added; store it once more only if it happened twice."
    ),
    "nothing_typed": ErrorCode(
        "a run was sent with nothing in it but what is carried over",
        "Type the temperature of a diff, or any one thing.",
    ),
    "minutes_without_temperature": ErrorCode(
        "minutes after a run were given, but no temperature", "Type the temperature, or take the minutes away."
    ),
    "carried_changed": ErrorCode(
        "the form of a run was drawn for another car or day, or a run was stored meanwhile",
        "Look at what is carried over now, then store it; nothing was stored.",
    ),
    "given_twice": ErrorCode("one thing was given two values", "Give it one; nothing was changed."),
    "already_there": ErrorCode(
        "a record of that name is there already, or the build is open already",
        "Change it by its name; 'bevelbook record KIND ... --another' adds another of that name.",
    ),
    "which_event": ErrorCode(
        "two events of one name have the day of the run among their days", "Name one with its first day, as is shown."
    ),
    "call_meanwhile": ErrorCode(
        "a run got another call while a page was open", "Correct it on the page of the run if that is wrong."
    ),
    "low_over_high": ErrorCode(
        "of the temperatures expected at an event the lowest is above the highest", "Swap the two, or leave one empty."
    ),
    "last_day_alone": ErrorCode(
        "an event has a last day and no first one", "Give the first day; an event of one day needs that alone."
    ),
    "last_before_first": ErrorCode(
        "the last day of an event is before its first", "Correct one of the two days; nothing was changed."
    ),
    "car_twice": ErrorCode(
        "a car goes to an event already", "Correct the record that is there, such as its runs; nothing was changed."
    ),
    "diff_is_apart": ErrorCode(
        "the diff was opened and not built since, so it could not run or be weighed closed",
        "Say that it was closed again, or name another diff; nothing was changed.",
    ),
    "diff_is_on_bench": ErrorCode(
        "the diff lies half built on the bench, so it is not clear which build ran or was weighed",
        "Name the build before or the one on the bench, or another diff; nothing was changed.",
    ),
    "mass_far_off": ErrorCode(
        "a mass typed at the bench is farther from the last one than oil lost, other parts or the scale explain",
        "Weigh again, or say that it is right; nothing was changed.",
    ),
    "which_build_of_the_day": ErrorCode(
        "the diff was built more than once on that day", "Name the build itself, such as rear-a/3."
    ),
    "before_its_build": ErrorCode(
        "a run or weighing is dated before its build was built", "Correct the day, or name the build in use then."
    ),
    "like_not_earlier": ErrorCode(
        "a build is said to be made like itself, like a build that was built later, or like one that is like it",
        "Name the build before it that it was made like, or leave that empty.",
    ),
    "diff_or_instead": ErrorCode(
        "a place of a car was given neither a diff nor what is there instead, or both", "Give one of the two."
    ),
    "before_or_after_the_swap": ErrorCode(
        "a run of a past day may have been before or after what was changed in its car on that day",
        "Say which, give its time of day, or name what was in the car.",
    ),
    "nothing_in_that_place": ErrorCode(
        "a temperature was given for a place of a run where no diff is written down", "Say which diff was there."
    ),
    "readings_out_of_order": ErrorCode(
        "a second reading of a diff's temperature after a run has no first, no temperature, or is not the later one",
        "Give the earlier reading as the first, and the time of each from the end of the run; nothing was changed.",
    ),
    "join_with_itself": ErrorCode(
        "the two names of a join mean one record",
        "Name two of them. Nothing was changed.",
    ),
    "joined_already": ErrorCode(
        "of two records it was said already that they are one, or that they are two",
        "'bevelbook join' lists what was said. Nothing was changed.",
    ),
    "cannot_be_one": ErrorCode(
        "two records are to be one, or two, and what was said of others does not let them",
        "'bevelbook join' lists what was said: take back what does not hold. Nothing was changed.",
    ),
    "not_joined_kind": ErrorCode(
        "two records are to be joined of a kind that stays two",
        "Builds, runs and bottles of one name show who wrote them: type that too.",
    ),
    "join_by_command": ErrorCode(
        "a join was to be written by the ids of two records",
        "Say it with 'bevelbook join KIND A B'.",
    ),
    "ambiguous_name": ErrorCode(
        "a name may mean several records", "Write more of the name, as the error lists it, or name it by its id."
    ),
    "gauge_sign": ErrorCode(
        "a pressure below the outside air was given without its minus sign",
        "Put the minus sign in front, or give the pressure counted from zero.",
    ),
    "implausible": ErrorCode(
        "a number is possible but far from the usual range",
        "Check it; if it is right, write it with 'bevelbook record KIND ... --yes'.",
    ),
    "listing_item_parts": ErrorCode(
        "an item of a list has too many or too few parts", "Join its values with a colon, in the order that is shown."
    ),
    "mass_basis": ErrorCode(
        "more mass is missing than oil was put in, so different parts were on the scale",
        "Weigh the same parts each time and write down what was on the scale.",
    ),
    "columns_differ": ErrorCode(
        "columns that are worked out together have not the same rows", "Put them in one table first."
    ),
    "missing_column": ErrorCode("a CSV file lacks a column that is needed", "Add the column under the name shown."),
    "missing_input": ErrorCode("something that is needed was not given", "Give it, or name a record that has it."),
    "not_a_share": ErrorCode(
        "a percentage was given for a limit that is not a share", "Give a plain number in its unit."
    ),
    "share_over_one": ErrorCode(
        "a limit that is a share of the oil is more than all of it", "Give it in percent, '5 %', or as 0.05."
    ),
    "no_equals": ErrorCode("a word has no = between field and value", "Write FIELD=VALUE, such as dry_mass=12.40g."),
    "no_input_from_kind": ErrorCode(
        "the calculator takes no value from records of that kind", "Choose another kind of record."
    ),
    "no_kept_plan": ErrorCode(
        "a plan is to be compared with one that was never kept", "Keep one with 'bevelbook plan EVENT --keep'."
    ),
    "no_record": ErrorCode("the record to be changed is not there", "Check its name; nothing was changed."),
    "no_records": ErrorCode("no record fits what the calculator needs", "Write more down first, or give the values."),
    "no_calculator": ErrorCode(
        "no calculator is loaded under which the result could be kept",
        "'bevelbook calculators' says what is missing.",
    ),
    "entry_of_another": ErrorCode(
        "the entry to be taken back is another person's",
        "Name that person: 'bevelbook take-back --of NAME'; nothing was changed.",
    ),
    "nothing_to_take_back": ErrorCode(
        "there is no entry left to take back, or it left nothing", "'bevelbook history' lists what was written."
    ),
    "take_back_refused": ErrorCode(
        "a later entry changed or uses what the entry wrote, or what it would bring back no longer fits",
        "Take back the later entries first, or all with 'bevelbook take-back ENTRY --and-later'; nothing was changed.",
    ),
    "taken_back_already": ErrorCode(
        "the entry was taken back before", "To bring it back, take back the entry that took it back."
    ),
    "not_for_removal": ErrorCode(
        "a record is removed by its name alone, and with a reason",
        "Write 'bevelbook record KIND NAME --remove WHY'; nothing was removed.",
    ),
    "nothing_to_keep": ErrorCode(
        "the runs of the two builds cannot be compared, so there is no result",
        "See what differs with 'bevelbook compare A B', which keeps nothing.",
    ),
    "not_for_hand": ErrorCode(
        "only the tool writes records of that kind",
        "Use the command that makes them: 'bevelbook calc NAME --keep' or 'bevelbook import FILE'.",
    ),
    "outside_valid_range": ErrorCode(
        "the formula is not valid for that value", "Look at the valid range of the calculator."
    ),
    "refused_by_check": ErrorCode(
        "the values do not fit together in that table", "Look at the fields of the record; nothing was changed."
    ),
    "too_many_combinations": ErrorCode(
        "there are too many ways to put the pieces together", "Leave out sizes, or allow fewer pieces."
    ),
    "too_many_inputs": ErrorCode("two inputs say the same thing in two ways", "Give one of them."),
}
"""For what a person typed: an option, a field, a form."""

VALUE_CODES: Final = {
    "ambiguous_date": ErrorCode(
        "two readings are possible, by the order of day and month",
        "Write it so that it can be read in one way, such as 2026-05-03.",
    ),
    "ambiguous_number": ErrorCode(
        "two readings are possible, by the mark that starts the decimals",
        "Write it in one of the two ways that are shown, such as 1500 or 1.5.",
    ),
    "approximate_value": ErrorCode(
        "a value with an uncertainty or a tolerance where a value alone is taken",
        f"Write the value alone; a calculator takes an uncertainty as {EXAMPLE}.",
    ),
    "control_character": ErrorCode("a control character is in the text", "Retype it."),
    "date_incomplete": ErrorCode("no day, no month or no year", "Write the whole day, such as 2026-05-03."),
    "date_invalid": ErrorCode("there is no such day in the calendar", "Look at the day and the month."),
    "date_unparseable": ErrorCode("not a date in any known form", "Write it as 2026-05-03, or as today."),
    "ditto_mark": ErrorCode("a name that only points to the one above", "Write the name out."),
    "dynamic_viscosity_needs_density": ErrorCode(
        "cP, cps, mPa·s and Pa·s are units of dynamic viscosity; cSt is kinematic, and they differ by the density",
        "Divide mPa·s by the density in g/cm3 and give the result in cSt.",
    ),
    "name_too_long": ErrorCode(
        "a name of more than 200 letters", "Give a short name, and write the rest into a remark."
    ),
    "not_a_name": ErrorCode("a name of signs without a letter or a digit", "Write the name."),
    "formula_in_cell": ErrorCode("a formula of a spreadsheet in place of its value", "Put in its value."),
    "future_date": ErrorCode("the day is later than today", "Look at the year and the month."),
    "missing_required": ErrorCode("a value that is needed is empty", "Give it; what is wanted is shown."),
    "number_unparseable": ErrorCode("not a number in any known form", "Write it as shown, with or without its unit."),
    "out_of_range": ErrorCode(
        "a number is outside what is possible for that field",
        "Look at its unit, and give one inside the bounds that are shown.",
    ),
    "range_not_value": ErrorCode("a range or a bound instead of a value", "Give one value."),
    "spreadsheet_error": ErrorCode("an error word of a spreadsheet in place of a value", "Put in the value."),
    "unit_ambiguous": ErrorCode("the unit has two meanings", "Write one of those that are shown."),
    "unit_not_allowed": ErrorCode("a unit of another quantity", "Give the value in the unit that is wanted."),
    "unit_unknown": ErrorCode("the unit is not known", "'bevelbook help units' lists those that are taken."),
    "units_disagree": ErrorCode(
        "a sheet says two units of one number",
        "Correct one of them in the sheet, or say the unit in a profile.",
    ),
    "viscosity_unit_unknown": ErrorCode("not a unit of viscosity", "Give it in cSt."),
    "viscosity_unit_wt": ErrorCode(
        "a weight number on a bottle is a label and not a viscosity; it is never converted",
        "Give the cSt of the bottle's data sheet. A build without one takes the label: fluid=NAME.",
    ),
    "time_unparseable": ErrorCode("not a time of day", "Write it as 14:05, or as 2:05 pm."),
}
"""For a value that was typed and cannot be read; an import rejects a cell under the same codes."""

FILE_CODES: Final = {
    "output_full": ErrorCode(
        "standard output takes no more, such as a file on a disk that is full",
        "Make room, or send the output elsewhere.",
    ),
    "not_for_a_terminal": ErrorCode(
        "a picture or another file that is not text would go to the terminal",
        "Name a file, or send it on: 'bevelbook ... > FILE'.",
    ),
    "not_of_its_type": ErrorCode(
        "a value that another program wrote is not what its column holds, such as a day that there is not",
        "Write the table as CSV or NDJSON, which take it as it is, and correct the record.",
    ),
    "same_file": ErrorCode(
        "a copy is to be put in the place of a database, and the database itself was named",
        "Name a copy: 'bevelbook backup --list' lists them.",
    ),
    "other_book": ErrorCode(
        "a copy of another book is to be put in the place of a database",
        "Name a copy of this one: 'bevelbook backup --list' lists them.",
    ),
    "calculators_busy": ErrorCode(
        "a page asks for a calculation while others are under way and several wait, or none can be started",
        "Wait a few seconds, then load the page again.",
    ),
    "address_taken": ErrorCode(
        "another program answers at that address, or this computer does not have it",
        "Choose another port: 'bevelbook serve --port 8123'; or every network: 'bevelbook serve --host 0.0.0.0'.",
    ),
    "phones_file": ErrorCode(
        "the file with the paired phones and the signing secret cannot be read or written",
        "Nothing of the book is in it: make it readable, or rename it and pair the phones once more.",
    ),
    "bad_lines": ErrorCode(
        "lines of a file are the first and the last, counted from 1", "Write the smaller number first, such as 1-40."
    ),
    "bad_set": ErrorCode(
        "a value for the whole file does not have the form COLUMN=VALUE",
        "Write 'bevelbook import FILE --set COLUMN=VALUE'.",
    ),
    "bad_map": ErrorCode(
        "what a heading means does not have the form HEADING=FIELD",
        "Write 'bevelbook import FILE --map HEADING=FIELD'.",
    ),
    "file_exists": ErrorCode("a file with that name already exists", "Choose another name, or move that file."),
    "is_folder": ErrorCode("the name is that of a folder", "Name a file."),
    "needs_calamine": ErrorCode(
        "OpenDocument sheets need one more library", "pip install 'bevelbook[sheets]', or save it as .xlsx or CSV."
    ),
    "needs_openpyxl": ErrorCode("workbooks need one more library", "pip install 'bevelbook[xlsx]', or save it as CSV."),
    "needs_yes": ErrorCode(
        "records that are there would change",
        "Look with 'bevelbook import --again NAME --dry-run', then 'bevelbook import --again NAME --yes'.",
    ),
    "no_process": ErrorCode(
        "a plugin is tried in a process of its own, and none can be started here", "Close other programs and try again."
    ),
    "no_file": ErrorCode("there is no file with that name, or it cannot be opened", "Check the name."),
    "word_not_utf8": ErrorCode(
        "a word of the command is not UTF-8 text", "Type it again; call a file with such a name something else."
    ),
    "link_to_nothing": ErrorCode(
        "what is to be written is a link that leads to a place where nothing is",
        "Choose another name, or make what the link leads to.",
    ),
    "no_folder": ErrorCode("there is no folder with that name", "Check the name, or make it first."),
    "unknown_sheet": ErrorCode(
        "there is no sheet with labels of that size",
        "Take a size that 'bevelbook help labels' lists, or give the measures: COLUMNSxROWS:WIDTHxHEIGHT.",
    ),
    "sheet_too_large": ErrorCode(
        "the labels that were given are more than a sheet of paper holds",
        "Measure the sheet again: columns and rows, then width and height of one label in mm.",
    ),
    "label_too_small": ErrorCode(
        "a label has no room for a name in letters of 5 mm and its code", "Take a sheet with larger labels."
    ),
    "too_many_skipped": ErrorCode(
        "more labels of the first sheet are to be left out than it has", "Leave fewer out, or take a new sheet."
    ),
    "no_labels": ErrorCode(
        "there is nothing to print labels of",
        "Name a build, a bottle or a kind of seal: 'bevelbook labels rear-a/3 --html labels.html'.",
    ),
    "no_segno": ErrorCode("labels need one more library, for their codes", "pip install 'bevelbook[labels]'."),
    "no_pdf": ErrorCode(
        "a PDF needs one more library, or one that this machine cannot have",
        "pip install 'bevelbook[labels]', or print what 'bevelbook labels --html FILE' writes.",
    ),
    "not_an_address": ErrorCode(
        "what the codes of labels are to lead to is not an address",
        "Give a name and a port: 'bevelbook labels --address http://team.local:8002'.",
    ),
    "numeric_address": ErrorCode(
        "the address for labels is numeric, and another one in the next network",
        "Leave it out, or give a name: 'bevelbook labels --address http://team.local:8002'.",
    ),
    "not_readable": ErrorCode("a file cannot be read", "Check that it is the right file and that you may read it."),
    "not_writable": ErrorCode("a file cannot be written there", "Choose another place, or make room."),
    "packing_encoding": ErrorCode("the packing list is not in UTF-8", "Save it as UTF-8."),
    "packing_too_long": ErrorCode("the file is too long for a packing list", "Check whether it is the right file."),
    "packing_value": ErrorCode("a packing list has an invalid value", "Correct the line that is named."),
    "packing_yaml": ErrorCode("the packing list is not valid YAML", "Correct the line that is named."),
    "page_not_made": ErrorCode(
        "a page of the database cannot be made, so a copy of its pages would not be whole",
        "Look at the database with 'bevelbook check'.",
    ),
    "procedure_encoding": ErrorCode("the procedure is not in UTF-8", "Save it as UTF-8."),
    "procedure_too_long": ErrorCode("the procedure is longer than a card has room for", "Shorten it."),
    "procedure_value": ErrorCode("a step of the procedure has an invalid value", "Correct the line that is named."),
    "procedure_yaml": ErrorCode("the procedure is not valid YAML", "Correct the line that is named."),
    "profile_encoding": ErrorCode("the profile is not in UTF-8", "Save it as UTF-8."),
    "profile_too_long": ErrorCode("the file is too long for a profile", "Check whether it is the right file."),
    "profile_value": ErrorCode("the profile has an invalid value", "Correct the part that is named."),
    "profile_yaml": ErrorCode("the profile is not valid YAML", "Correct the line that is named."),
    "record_in_use": ErrorCode(
        "a row of notes would no longer make its record, and other records refer to it",
        "Move or remove those first; nothing was changed.",
    ),
    "unknown_encoding": ErrorCode("there is no encoding with that name", "Try utf-8, cp1252 or utf-16."),
    "unknown_profile_name": ErrorCode("the profile uses a name that it may not use", "Correct it as shown."),
}
"""For files beside the database: notes, profiles, procedures, what is written."""

DATABASE_CODES: Final = {
    "not_utf8": ErrorCode(
        "an older database holds text that is not UTF-8, so it cannot be brought to this version",
        "Write that one text again with the statement that is shown; the file and its copy are as they were.",
    ),
    "older_demo": ErrorCode("this is the demo of an older version", "Make a new one under another name."),
    "backup_differs": ErrorCode(
        "a copy of a database was read back and is not what the database holds",
        "Make one on another disk: 'bevelbook backup --to FOLDER'. No copy was kept.",
    ),
    "backups_file": ErrorCode(
        "the list of the copies that were made on this computer cannot be read or written",
        "Nothing of the book is in it: make it readable, or rename it; a new one begins with the next copy.",
    ),
    "copy_damaged": ErrorCode(
        "a copy that is to be brought back is damaged",
        "Bring back another one; the message names those that are whole.",
    ),
    "open_elsewhere": ErrorCode(
        "a database is to be replaced by a copy of it, and a program has it open",
        "Stop 'bevelbook enter', 'bevelbook serve' and other programs on it, then try again.",
    ),
    "damaged": ErrorCode("the database file is damaged", "Go back to a backup copy."),
    "database_exists": ErrorCode("a file with that name already exists", "Use it as it is, or choose another name."),
    "database_newer": ErrorCode("a newer version of the tool made the database", "Install that version."),
    "database_not_empty": ErrorCode(
        "the demo needs a database of its own, and this one holds something",
        "Choose another name: 'bevelbook --db demo.db demo'.",
    ),
    "database_older": ErrorCode(
        "an older version of the tool made the database", "Run a command that writes; it keeps a copy and updates it."
    ),
    "diff_gone": ErrorCode(
        "another program removed the diff of a build", "Add the diff again, then name it in the build."
    ),
    "endless": ErrorCode(
        "reading the database goes on without end", "Go back to a backup copy; it is damaged, or made to do that."
    ),
    "disk_fault": ErrorCode(
        "the disk cannot read or write the file", "Copy the file, with a -wal beside it, to another disk."
    ),
    "disk_full": ErrorCode(
        "a disk takes no more: it, your share of it or the largest file that is allowed is used up",
        "Make room and try again; nothing was changed.",
    ),
    "facts_missing": ErrorCode(
        "what follows from the records is not all there: another program took some of it out, or added a record",
        "'bevelbook check --rebuild' works it out again.",
    ),
    "impossible_number": ErrorCode(
        "another program wrote an impossible number", "Serve again; 'bevelbook check' names the record."
    ),
    "locked": ErrorCode("another program is writing to the database", "Wait until it has finished and try again."),
    "other_log": ErrorCode(
        "the changes beside a database (-wal) are of another file", "Move that file out of the folder, and keep it."
    ),
    "nothing_rescued": ErrorCode(
        "nothing of a bevelbook database can be read in a file", "Look whether it is the right file."
    ),
    "schema_changed": ErrorCode(
        "another program changed how the database is made",
        "Go back to a backup copy, or take its rows out: 'bevelbook export --rescue FOLDER'.",
    ),
    "log_unread": ErrorCode(
        "rows are in a second file (-wal) in a folder that cannot be written",
        "Close the program that writes, or copy both files to a folder of yours.",
    ),
    "no_database": ErrorCode("there is no database with that name", "'bevelbook new' makes one."),
    "other_database": ErrorCode(
        "while 'bevelbook enter' was running, its database was replaced by another one",
        "Put the right one back, or stop 'bevelbook enter' and start it again.",
    ),
    "not_json": ErrorCode(
        "a kept result holds text that is not JSON", "Remove that row of the table calculations and calculate again."
    ),
    "not_ours": ErrorCode(
        "the file is not a bevelbook database", "Check the name of the database: 'bevelbook --db FILE ...'."
    ),
    "other_damaged": ErrorCode(
        "a database that was sent is damaged or cut, so it cannot be read whole",
        "Ask for it to be sent again; nothing was changed.",
    ),
    "other_in_use": ErrorCode(
        "a database that was named is being written, or a change of it was never finished",
        "Close the program that writes to it, or have it opened once where it comes from; then try again.",
    ),
    "other_no_file": ErrorCode(
        "what was named is a pipe or a device, not a file", "Store what comes from it in a file, and name that."
    ),
    "other_row": ErrorCode(
        "a record of a database that was sent is not one that this tool writes",
        "Ask whoever sent it to run 'bevelbook check', put right what it names, and send it again.",
    ),
    "other_schema": ErrorCode(
        "a table of a database that was sent is missing, or made otherwise than by this tool",
        "Ask whoever sent it for an export, or for an earlier copy.",
    ),
    "other_too_big": ErrorCode(
        "what was sent is larger, or takes longer to read, than anything a team has",
        "Look whether it is the right file; nothing was changed.",
    ),
    "same_database": ErrorCode(
        "a database was to meet itself", "Name the one that you were sent; nothing was changed."
    ),
    "zip_damaged": ErrorCode(
        "a zip that was sent is damaged or cut", "Ask for it to be sent again; nothing was changed."
    ),
    "zip_refused": ErrorCode(
        "a zip that was sent has names that lead elsewhere, links, a password, or files that lie over each other",
        "Ask for the file as 'bevelbook export' wrote it; nothing was changed.",
    ),
    "zip_too_big": ErrorCode(
        "a zip that was sent unpacks to too much, or has too many files",
        "The message has the bounds; ask for a smaller one, without files.",
    ),
    "part_missing": ErrorCode(
        "a table, view or column is missing", "'bevelbook check --rebuild' makes a view again; else use a backup copy."
    ),
    "read_only": ErrorCode(
        "the database file cannot be written", "Ask for the right to write, or copy the file, with a -wal beside it."
    ),
    "refused_by_database": ErrorCode("the database refused the change", "Read what it says; nothing was changed."),
    "served_read_only": ErrorCode(
        "pages cannot write", "Write with 'bevelbook record', 'bevelbook import' or 'bevelbook calc NAME --keep'."
    ),
    "step_refused": ErrorCode(
        "the database could not be brought to this version", "Correct the records that are named; nothing was changed."
    ),
}
"""For the team's database."""

AUTHOR_CODES: Final = {
    "no_factor_by_pint": ErrorCode(
        "a plugin names a unit that the library of units does not turn into the other", "Write its factor out."
    ),
    "calculator_declared_wrongly": ErrorCode("a calculator's declaration is wrong", "Its author corrects it."),
    "caution_unknown": ErrorCode("a caution is not in the table of cautions", "Its author adds it."),
    "field_name_and_unit": ErrorCode("a field's name and its unit disagree", "Its author ends the name in the unit."),
    "field_without_specifier": ErrorCode("a field has no specifier", "Its author declares it with one."),
    "filling_named": ErrorCode(
        "a column of notes that names a record does not say by which field",
        "The contributor adds named= for a reference only.",
    ),
    "filling_unknown_field": ErrorCode(
        "a column of notes fills a field that does not exist", "The contributor corrects the field's name."
    ),
    "not_finite": ErrorCode(
        "a number came out infinite or undefined",
        "Look at the inputs that it names as far off; where it names none, ask the plugin's author.",
    ),
    "not_read": ErrorCode("a check of a plugin asked the database for something it may not", "Its author corrects it."),
    "program_failed": ErrorCode("the program itself failed", "Tell us, with what 'bevelbook --debug ...' prints."),
    "kept_result_differs": ErrorCode(
        "a result is kept already with other figures than were found now, or by another formula of that version",
        "Its author gives the calculator a new version; then run it again. What was kept stays as it is.",
    ),
    "plugin_failed": ErrorCode("code of a plugin failed", "Ask its author; the rest of the tool keeps working."),
    "record_not_of_fields": ErrorCode("a record is more than its fields", "Its author writes its fields alone."),
    "row_without_source": ErrorCode("a row of a reference table names no source", "Its author adds the source."),
    "same_as_unknown": ErrorCode(
        "an input is to come from a column that does not exist", "Its author corrects the name."
    ),
    "schema_refused": ErrorCode(
        "a change of the tables cannot be written as a step", "The contributor says what becomes of the old rows."
    ),
    "source_incomplete": ErrorCode("a source leaves something out", "Its author completes it."),
    "source_kind": ErrorCode("a source is of an unknown kind", "Its author names one of the kinds shown."),
    "source_seen": ErrorCode("a source does not say how it was seen", "Its author says it first."),
}
"""Faults of the author of a plugin, a reference table or a change to the tool; they end with exit code 3."""

PATTERN_CODES: Final = {
    "unknown_KIND": ErrorCode(
        "there is nothing of that kind with that name, as in unknown_diff or unknown_calculator",
        "Look at the similar names, or list them.",
    ),
    "FIELD_unknown": ErrorCode(
        "the field takes words of a list, and this is not one of them, as in mass_basis_unknown",
        "Write one of the words that are shown.",
    ),
}
"""Codes made from the name of what was asked for."""

GROUPS: Final[dict[str, dict[str, ErrorCode]]] = {
    "What was typed": INPUT_CODES | PATTERN_CODES,
    "Values that cannot be read": VALUE_CODES,
    "Files": FILE_CODES,
    "The database": DATABASE_CODES,
    "Plugins and declarations": AUTHOR_CODES,
}
"""All codes, under the heading of their group."""


def code_in_words(code: str) -> ErrorCode | None:
    """A code in words, or None if it is not an error code.

    >>> code_in_words("no_equals").means
    'a word has no = between field and value'
    >>> code_in_words("unknown_diff") == code_in_words("unknown_venue")
    True
    """
    for codes in GROUPS.values():
        if code in codes:
            return codes[code]
    if code.startswith("unknown_"):
        return PATTERN_CODES["unknown_KIND"]
    return PATTERN_CODES["FIELD_unknown"] if code.endswith("_unknown") else None
