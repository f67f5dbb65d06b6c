"""Errors say what, where and what to do, however long the texts are that they repeat."""

from __future__ import annotations

from kb.errors import BayshelfError, SheetError


def test_an_error_says_what_where_and_what_to_do() -> None:
    error = SheetError("it is empty.", where="prices.csv", do="Save it again.")
    assert str(error) == "prices.csv: it is empty. Save it again."
    assert str(BayshelfError("it is empty.")) == "it is empty."


def test_a_sheets_endless_text_does_not_make_an_endless_error() -> None:
    error = SheetError(
        f"unit = {'x' * 100_000!r} is neither mm nor in.", where="y" * 5_000, do=f"Write mm. {'z' * 5_000}"
    )
    assert len(str(error)) < 3_100
    assert error.what.startswith("unit = 'xxx")
    assert error.what.endswith("' is neither mm nor in.")
    assert error.args == (error.what,)
    short = "w" * 1_000
    assert BayshelfError(short).what == short
