"""Writing a job's form, empty or with what is known: TOML for a text editor, XLSX with drop-downs for a spreadsheet."""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kb.closing_checks import checks_for, measurement_for
from kb.errors import SheetError
from kb.fields import OUTCOMES
from kb.sheets.job_form import JOB_ROWS, LIST_COLUMNS, LISTS, ROW, TAKE_OUT
from kb.sheets.job_sheet import OLD_PARTS, JobMeasurement, JobSheet

UNITS = ("mm", "in", "V", "rpm", "degC", "degF", "psi", "kPa", "inHg", "deg", "%", "Nm", "lbf in", "h")
SPARE_ROWS = 40
"""Rows below the filled ones that have drop-downs too."""


@dataclass(frozen=True, slots=True)
class Choices:
    """What the drop-downs offer beside the fixed lists: the shelf's bays, machines, engines, suppliers, drives."""

    bays: Sequence[str] = ()
    machines: Sequence[str] = ()
    engines: Sequence[str] = ()
    suppliers: Sequence[str] = ()
    drives: Sequence[str] = ()


def write_form(target: Path, job: JobSheet | None, revision: str | None, choices: Choices) -> None:
    """Write a form; whole or not at all, and never over a file. Raises :class:`~kb.errors.SheetError`."""
    suffix = target.suffix.casefold()
    if suffix not in (".toml", ".xlsx"):
        raise SheetError("a form is a TOML or XLSX file.", where=target.name, do="Name it form.toml or form.xlsx.")
    if target.exists():
        raise SheetError("that file is there already.", where=str(target), do="Name another one, or move it away.")
    shown = job or JobSheet(None, "")
    try:
        scratch = target.with_name(f".{target.stem}-{secrets.token_hex(4)}{suffix}")
        scratch.touch(exist_ok=False)
        try:
            if suffix == ".toml":
                scratch.write_text(toml_form(shown, revision), encoding="utf-8")
            else:
                _write_workbook(scratch, shown, revision, choices)
            os.link(scratch, target)  # unlike a rename this never replaces what someone put there meanwhile
        finally:
            scratch.unlink()
    except FileExistsError as error:
        raise SheetError("that file is there already.", where=str(target), do="Name another one.") from error
    except OSError as error:
        raise SheetError(
            f"cannot be written ({error.strerror}).", where=str(target), do="Look at the folder and its permissions."
        ) from error


def asked_measurements(job: JobSheet) -> list[JobMeasurement]:
    """Return the measurements that the work's checks ask for and the job does not have yet, as empty lines."""
    return [
        JobMeasurement(check.name, check.unit or None)
        for check in checks_for(job)
        if check.kind != "later" and measurement_for(check, job) is None
    ]


def _job_values(job: JobSheet, revision: str | None) -> dict[str, Any]:
    whole = job.content()
    values = {key: whole.get(key) for key, _, _ in JOB_ROWS}
    values |= {"job": job.id, "work": job.work or None, "revision": revision, "clear": None}
    values["belt_length"] = None if job.belt_length_mm is None else f"{job.belt_length_mm:.10g} mm"
    values |= {"customer": job.customer, "private_note": job.private_note}
    return {key: value for key, value in values.items() if value not in (None, (), [])}


def _entries(job: JobSheet, key: str) -> Iterator[dict[str, Any]]:
    """Yield a list's entries as the form shows them, each with its row."""
    columns = [name for name, _ in LIST_COLUMNS[key][1]]
    for number, one in enumerate(getattr(job, LISTS[key]), 1):
        yield {"row": number, **{name: getattr(one, name) for name in columns if getattr(one, name) is not None}}


# TOML -----------------------------------------------------------------------------------------------------------------

_HEAD = """\
# A job's form. Fill in what is known and run `bayshelf record add THIS-FILE`, as often as you like over the day.
# What is left empty stays as it is. To take an entry out again, add the line: take_out = true
# To empty a field: clear = ["outcome"]
"""
_PATTERNS = {
    "part": 'part_no = ""\nsupplier = ""\nquantity = 1\nordered_by = ""      # a donor machine, a parts list, a measurement\n'
            'old_part = ""        # returned, kept, scrapped or deposit due\nnote = ""',
    "trouble": 'trouble = ""\nremedy = ""\nhours_lost = 0.5\nsolved = true',
    "measurement": 'name = ""\nunit = ""\nas_found = ""\nas_left = ""',
    "later": 'check = ""\ndue_on = 2026-01-31\nafter_hours = 1\ndone_on = 2026-01-31\nfound = ""',
}  # fmt: skip


def toml_form(job: JobSheet, revision: str | None) -> str:
    """Return a form as TOML: what is known, the rest as lines to be uncommented."""
    values = _job_values(job, revision)
    lines = [_HEAD]
    private: list[str] = []
    for key, _, hint in JOB_ROWS:
        if key == "clear":
            continue
        name, into = {"customer": ("customer", private), "private_note": ("note", private)}.get(key, (key, lines))
        if key in values:
            into.append(f"{name} = {_toml(values[key], key)}")
        elif key != "revision":
            into.append(f"# {name} = {_toml_example(key)}" + (f"  # {hint}" if hint else ""))
    for key in LISTS:
        for entry in _entries(job, key):
            lines.append(f"\n[[{key}]]")
            lines += [f"{name} = {_toml(value, name)}" for name, value in entry.items()]
        if key == "measurement":
            for asked in asked_measurements(job):
                unit = f"\n# unit = {_toml(asked.unit, 'unit')}" if asked.unit else ""
                lines.append(
                    f'\n# [[measurement]]\n# name = {_toml(asked.name, "name")}{unit}\n# as_found = ""\n# as_left = ""'
                )
        pattern = "\n".join(f"# {line}" for line in _PATTERNS[key].splitlines())
        lines.append(f"\n# [[{key}]]\n{pattern}")
    return "\n".join([*lines, "\n[private]                 # never leaves the shop", *private, ""])


def _toml(value: Any, key: str) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return f"{value:.10g}" if isinstance(value, float) else str(value)
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_toml(one, key) for one in value) + "]"
    if key.endswith("_on"):
        return str(value)
    # JSON's escapes are TOML's; what JSON leaves bare and TOML forbids is the delete character.
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")


def _toml_example(key: str) -> str:
    examples = {"ribs": "8", "hours_worked": "6.5", "accessories": '["alternator", "fan"]'}
    if key.endswith("_on"):
        return "2026-01-31"
    return examples.get(key, '""')


# XLSX -----------------------------------------------------------------------------------------------------------------


def _write_workbook(target: Path, job: JobSheet, revision: str | None, choices: Choices) -> None:
    from openpyxl import Workbook

    book = Workbook()
    first = book.active
    first.title = "Job"
    lists = _Lists(book)
    _job_sheet(first, _job_values(job, revision), lists, choices)
    for key, (title, _) in LIST_COLUMNS.items():
        entries = list(_entries(job, key))
        if key == "measurement":
            entries += [{"name": one.name, "unit": one.unit} for one in asked_measurements(job)]
        _list_sheet(book.create_sheet(title, index=len(book.sheetnames) - 1), key, entries, lists, choices)
    book.save(target)


class _Lists:
    """The hidden worksheet that the drop-downs draw on: a list per column."""

    def __init__(self, book: Any) -> None:
        self.sheet = book.create_sheet("Lists")
        self.sheet.sheet_state = "hidden"
        self.columns = 0

    def offer(self, sheet: Any, cells: str, values: Iterable[str], *, strict: bool) -> None:
        """Give cells a drop-down; unless ``strict``, anything else may be typed as well."""
        from openpyxl.utils import get_column_letter
        from openpyxl.worksheet.datavalidation import DataValidation

        offered = list(dict.fromkeys(values))
        if not offered:
            return
        self.columns += 1
        letter = get_column_letter(self.columns)
        for number, value in enumerate(offered, 1):
            cell = self.sheet.cell(number, self.columns, value)
            cell.number_format = "@"
            cell.data_type = "s"  # a name that begins with = is a name
        rule = DataValidation(
            type="list", formula1=f"Lists!${letter}$1:${letter}${len(offered)}", allow_blank=True,
            showErrorMessage=strict, errorTitle="Not in the list", error="Choose from the list.",
        )  # fmt: skip
        sheet.add_data_validation(rule)
        rule.add(cells)


def _put(sheet: Any, row: int, column: int, value: Any) -> Any:
    """Write a cell as text, so that a part number stays one; numbers stay numbers."""
    cell = sheet.cell(row, column)
    if value is None:
        cell.number_format = "@"
    elif isinstance(value, bool):
        cell.value = "yes" if value else "no"
    elif isinstance(value, (int, float)):
        cell.value = value
    else:
        cell.value = "; ".join(value) if isinstance(value, (list, tuple)) else str(value)
        cell.data_type = "s"
        cell.number_format = "@"
    return cell


def _job_sheet(sheet: Any, values: dict[str, Any], lists: _Lists, choices: Choices) -> None:
    from openpyxl.styles import Alignment, Font

    for column, (heading, width) in enumerate((("What", 22), ("Value", 48), ("How", 70)), 1):
        _put(sheet, 1, column, heading).font = Font(bold=True)
        sheet.column_dimensions["ABC"[column - 1]].width = width
    offered = {
        "outcome": (list(dict.fromkeys(OUTCOMES.values())), True),
        "bay": (choices.bays, False),
        "machine": (choices.machines, False),
        "engine": (choices.engines, False),
        "drive": (choices.drives, True),
        "profile": (("PK", "PH", "PJ", "PL", "PM"), False),
    }
    for row, (key, label, hint) in enumerate(JOB_ROWS, 2):
        _put(sheet, row, 1, label).font = Font(bold=True)
        cell = _put(sheet, row, 2, values.get(key))
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        _put(sheet, row, 3, hint)
        if key in offered:
            lists.offer(sheet, f"B{row}", *offered[key][:1], strict=offered[key][1])
    sheet.freeze_panes = "B2"


def _list_sheet(sheet: Any, key: str, entries: list[dict[str, Any]], lists: _Lists, choices: Choices) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    columns = [*LIST_COLUMNS[key][1], ("take_out", TAKE_OUT), ("row", ROW)]
    offered: dict[str, tuple[Sequence[str], bool]] = {
        "supplier": (choices.suppliers, False), "old_part": (OLD_PARTS, True), "solved": (("yes", "no"), True),
        "unit": (UNITS, False), "take_out": (("yes",), True),
    }  # fmt: skip
    last = len(entries) + 1 + SPARE_ROWS
    for column, (name, heading) in enumerate(columns, 1):
        _put(sheet, 1, column, heading).font = Font(bold=True)
        letter = get_column_letter(column)
        sheet.column_dimensions[letter].width = 34 if column == 1 or name in ("remedy", "note", "found") else 18
        for row in range(2, last + 1):
            value = entries[row - 2].get(name) if row - 2 < len(entries) else None
            _put(sheet, row, column, value)
        if name in offered:
            values, strict = offered[name]
            lists.offer(sheet, f"{letter}2:{letter}{last}", values, strict=strict)
    sheet.freeze_panes = "A2"
