"""A job's form as a workbook: what a person may type over what was written."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from kb.errors import SheetError
from kb.sheets.job import job_from_text
from kb.sheets.job_form import LIST_COLUMNS, ROW, read_form
from kb.sheets.job_form_written import Choices, write_form

JOB = 'job = "N-101"\nwork = "belt replaced"\n[[part]]\npart_no = "HX-2047"\n'


@pytest.mark.parametrize("typed", ["²", "一", "9" * 5_000, "1.5", "-1", "x"])
def test_a_row_that_is_no_number_is_refused_in_words(tmp_path: Path, typed: str) -> None:
    path = tmp_path / "form.xlsx"
    write_form(path, job_from_text(JOB, "job.toml"), "a-revision", Choices())
    book = openpyxl.load_workbook(path)
    sheet = book[LIST_COLUMNS["part"][0]]
    head, column = next((cell.row, cell.column) for row in sheet.iter_rows() for cell in row if cell.value == ROW)
    sheet.cell(head + 1, column).value = typed
    book.save(path)
    with pytest.raises(SheetError, match="Leave it as it was written"):
        read_form(path)
