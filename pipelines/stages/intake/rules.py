"""What the intake itself can find wrong, beside the contract of a kind: code, what is allowed, and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class IntakeRule:
    """One code that a problem may carry.

    Attributes
    ----------
    code : str
    allowed, hint : str
        In words for the person who reads the problem.
    """

    code: str
    allowed: str
    hint: str


_AGAIN = "then drop the file again"

_FILES = (
    IntakeRule(
        "unknown_kind",
        "a name that begins with a kind: shots_2026-03-14.csv",
        "An export of a device or a list of your own goes to inbox/NAME/: `speedworth map FILE --to NAME` says how it is read. "
        "A file in our own form begins with its kind: rename it, " + _AGAIN + ".",
    ),
    IntakeRule(
        "unknown_format",
        "csv, parquet, json, jsonl, xlsx, each also as .gz or in a .zip",
        "Save or export it as .csv or .xlsx, or as .parquet, .json or .jsonl, " + _AGAIN + ".",
    ),
    IntakeRule("empty_file", "at least a header and one row", "Export the file again: it holds nothing."),
    IntakeRule("no_rows", "at least one row below the header", "Export the file again, or delete it."),
    IntakeRule("not_text", "readable text", "The file is not what its ending says: export it again, or rename it."),
    IntakeRule("not_readable", "a file that can be read", "Export the file again: it is damaged or cut short."),
    IntakeRule("no_permission", "a file that this program may read", "Give read permission, " + _AGAIN + "."),
    IntakeRule("a_link", "the file itself", "Copy the file into the inbox instead of a link to it."),
    IntakeRule("not_a_file", "a file", "Drop files, not folders or devices, under a file's name."),
    IntakeRule(
        "too_large", "at most 500 MB, 1 GB unpacked, 12 million cells, 2000 columns", "Split the file, or leave columns out."
    ),
    IntakeRule("column_type", "columns of text, numbers, days and times", "Leave the column out of the export, or flatten it."),
    IntakeRule(
        "took_too_long",
        "a file that can be read within limits of time and memory",
        "Export the file again, as CSV or in parts; `speedworth again FILE` tries it once more.",
    ),
    IntakeRule(
        "sheet_too_wide",
        "at most 12 million cells from the first to the last, empty ones counted",
        "Something stands far from the table, perhaps only a format: delete the rows and columns behind it, " + _AGAIN + ".",
    ),
    IntakeRule(
        "formula_without_value",
        "formulas with the values that a spreadsheet computed",
        "A program wrote formulas into the sheet that nobody has computed: open it in a spreadsheet and save it, or export "
        "values, " + _AGAIN + ".",
    ),
    IntakeRule("too_deep", "files at most 20 folders deep", "Drop the files in one folder; they wait in quarantine now."),
    IntakeRule(
        "packed_too_tightly",
        "an archive that unpacks to at most 200 times its size, with at most 2000 files",
        "Unpack the archive yourself and drop the files.",
    ),
    IntakeRule("unsafe_entry", "names inside the archive without .. , links or absolute paths", "Pack the files again."),
    IntakeRule("column_missing", "every required column", "Add the column, or write a mapping with `speedworth map FILE`."),
    IntakeRule("duplicate_header", "each column once", "Remove or rename the second column of that name."),
    IntakeRule("mostly_bad", "at most half of the rows bad", "See to the problems of the rows, " + _AGAIN + "."),
    IntakeRule(
        "waits_for_others",
        "rows of players and sessions that are there",
        "Hand in the players or sessions file that it waits for; this file is then taken by itself.",
    ),
    IntakeRule(
        "waits_for_others_unkept",
        "rows of players who are there",
        "Hand in the players file that it waits for, then drop this file again: nothing of it was kept.",
    ),
    IntakeRule(
        "needs_confirming",
        "a correction that takes nothing away, or one that was confirmed",
        "When it is right, confirm it with `speedworth again FILE --accept`; else drop a file with everything in it.",
    ),
    IntakeRule("no_mapping", "mappings/NAME.toml for files in inbox/NAME/", "Draft one with `speedworth map FILE`."),
    IntakeRule("cannot_be_undone", "a file that can be taken back", "Drop a corrected file instead: a newer one replaces it."),
    IntakeRule("bad_mapping", "a mapping that can be used as written", "Correct the mapping, " + _AGAIN + "."),
    IntakeRule(
        "units_row_differs",
        "a row of units as the mapping names them",
        "Correct the units in the mapping, or export the file in its units, " + _AGAIN + ".",
    ),
    IntakeRule(
        "no_row_of_units",
        "a row of units below the header, as units_row = true says",
        "Take units_row out of the mapping, or export the file with its units, " + _AGAIN + ".",
    ),
    IntakeRule(
        "values_look_wrong",
        "values that can all be true together, and are this player's",
        "Correct the file or its mapping and drop it again; where it is right, confirm it: `speedworth again FILE --accept`.",
    ),
    IntakeRule(
        "units_look_swapped",
        "values in the units of the contract (m/s, m, deg, rpm)",
        "The whole file looks as if it were in other units: correct them, or read it through a mapping that names them.",
    ),
)

_ROWS = (
    IntakeRule("ragged_row", "as many cells as the header has", "Look for a missing or an extra separator in the line."),
    IntakeRule("open_quote", "a closing quotation mark", "Close the quotation mark, or remove it."),
    IntakeRule("bad_encoding", "UTF-8 text", "Save the file as UTF-8, or name its encoding in a mapping."),
    IntakeRule("nul_byte", "text without NUL bytes", "The line is damaged: export the file again."),
    IntakeRule("not_json", "one JSON object in a line", "Correct the line."),
    IntakeRule("not_a_value", "text, a number, true, false or null", "Put one plain value into the cell."),
    IntakeRule(
        "not_a_number",
        "a number such as 45.2",
        "Write the number alone, with a point and without its unit, or empty the cell when nothing was measured. A whole column "
        "of another form is read through a mapping.",
    ),
    IntakeRule(
        "sheet_error", "a value that the spreadsheet could compute", "Correct the formula in the spreadsheet, or empty the cell."
    ),
    IntakeRule("not_a_whole_number", "a whole number", "Correct the cell, or empty it."),
    IntakeRule("not_true_or_false", "true or false", "Write true or false, or empty the cell."),
    IntakeRule("not_a_day", "a day such as 2026-03-14, from 1950 to 2100", "Write the day as year-month-day."),
    IntakeRule(
        "not_an_instant",
        "a time such as 2026-03-14T17:05:00 or 2026-03-14T17:05:00+01:00, from 1950 to 2100",
        "Write the time as year-month-day, T, hour:minute:second; without an offset it is local time.",
    ),
    IntakeRule(
        "time_does_not_exist",
        "a local time that the clocks showed",
        "The clocks were put forward over this hour: correct the time, or write it with its offset.",
    ),
    IntakeRule(
        "duplicate",
        "each row once in a file",
        "Remove one of the two rows, or correct what tells them apart; the first was taken.",
    ),
    IntakeRule(
        "long_ago", "a day from the year 2000 on", "Set the clock of the device and correct the day, then drop the file again."
    ),
    IntakeRule("unknown_player", "a player_id of the players file", "Add the player to a players file; the row is then taken."),
    IntakeRule(
        "unknown_session", "a session_id of the sessions file", "Add the session to a sessions file; the row is then taken."
    ),
    IntakeRule(
        "other_players_session", "the player of the session", "Correct player_id or session_id: they do not belong together."
    ),
    IntakeRule(
        "no_health_consent",
        "body reports only of players with health_consent = true",
        "Ask for consent and record it in a players file, then drop this file again. Nothing of the row was kept.",
    ),
)

_WARNINGS = (
    IntakeRule(
        "mapped_column_missing",
        "the columns that the mapping names",
        "Nothing was read of it. Where the export calls it otherwise now, name it so in the mapping; else take it out there.",
    ),
    IntakeRule("unknown_column", "columns of this kind", "The column was left out. Check its spelling, or ignore this."),
    IntakeRule("speed_ratio_high", "a speed ratio that impact allows with this club", "Check both speeds and the club's name."),
    IntakeRule("carry_too_long", "a carry that the ball speed and launch can give", "Check carry and ball speed."),
    IntakeRule("spin_too_low", "a spin in revolutions a minute", "Check its unit; empty the cell when nothing was measured."),
    IntakeRule(
        "born_too_late", "a year of birth of somebody who plays", "Write the year of birth, not this one; else empty the cell."
    ),
    IntakeRule(
        "alias_of_another",
        "a name that no other player has",
        "Where it is the same player, who came back, say, keep the id of before. Else add an initial, or a year: nobody can tell "
        "the two apart, and an export that names its players so is read for neither.",
    ),
    IntakeRule(
        "id_like_another",
        "an id that differs from all others in more than capitals",
        "Where it is the same player, write the id as before; else take another one: some disks keep one file for both.",
    ),
    IntakeRule(
        "first_speeds",
        "speeds that something speaks for: the year of birth, five players with this club, or a carry",
        "In another unit they would be a player's too: look whether they are this one's, and write the year of birth into the "
        "players file.",
    ),
    IntakeRule("reading_repeated", "readings that differ from shot to shot", "The device may have sent one shot again."),
    IntakeRule("clock_jumps", "shots in order of time, within a day of their session", "Check the clock of the device."),
    IntakeRule(
        "pressure_of_sea_level",
        "the pressure at the place, at its height",
        "Write it as a barometer at the place shows it, not reduced to sea level as weather services do; or leave it empty.",
    ),
    IntakeRule(
        "after_leaving",
        "sessions before the day on which their player left",
        "Correct the day; or take left_on out of the players file, where the player is back: who has left is not waited for.",
    ),
    IntakeRule(
        "group_of_nobody",
        "a group that a player is in",
        "The plan counts for nobody. Write the group as the players file does; it counts by itself once somebody is in it.",
    ),
    IntakeRule(
        "course_unknown",
        "a course of academy.toml",
        "The academy's own course counts instead. Write the course as academy.toml does, or add it there.",
    ),
    IntakeRule(
        "clocks_put_back",
        "a local time that the clocks showed once",
        "The clocks were put back over this hour, and it was taken as the first of the two. Write times of that night with their "
        "offset, such as +01:00, where it was the second.",
    ),
    IntakeRule(
        "other_sheet",
        "one table in a workbook",
        "This sheet was not read: save it as a file of its own whose name begins with its kind.",
    ),
    IntakeRule("in_the_future", "a time that has passed", "Check the clock of the device, or the date."),
    IntakeRule(
        "fewer_rows_than_before",
        "a newer file that holds the whole session again",
        "It replaced more rows than it brought. If it was meant as a correction of some rows only, drop a file with all of them.",
    ),
    IntakeRule("sides_look_swapped", "left and right as in the player's other sessions", "Check left and right, and handed."),
)

INTAKE_RULES: MappingProxyType[str, IntakeRule] = MappingProxyType({rule.code: rule for rule in (*_FILES, *_ROWS, *_WARNINGS)})
"""Every code of the intake by itself. The codes of a kind's contract are in :func:`schemas.files.contract.rules`."""

REFERENCE_CODES = ("unknown_player", "unknown_session", "other_players_session")
"""Rows with these are looked at again as soon as what they name has arrived."""

CONSENT_CODE = "no_health_consent"
