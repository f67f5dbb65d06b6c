"""The order sheet as HTML: a page that prints on one sheet of paper, drawings included, and needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from importlib.resources import files

from queries.drawings.line import clock_face, end_drawing, route_views
from queries.lines import LineAnswer
from queries.order_sheet import BEND_HEADINGS, BEND_TITLE, CLEAR_HEADINGS, CLEAR_TITLE, OrderSheet, order_sheet

HALF_WIDTH = 60
"""Characters that fit into half the width of the paper."""
ROOMY_ROWS = 6
"""With more rows of bends and clearances the drawings are printed smaller, to stay on one page."""


def order_css() -> str:
    """Return the order sheet's style, the same that the explorer serves."""
    return (files("queries.explorer") / "static" / "order.css").read_text(encoding="utf-8")


def order_page(answer: LineAnswer) -> str:
    """Return a whole page that stands alone: style and drawings are in it, nothing is fetched.

    Raises :class:`~kb.errors.LineError` for a line that should not be ordered as it is.
    """
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>Order: {escape(answer.sheet.name)}</title>\n<style>\n{order_css()}</style>\n</head>\n<body>\n"
        '<p class="screen"><button type="button" onclick="print()">Print</button></p>\n'
        f"{order_body(answer)}\n</body>\n</html>\n"
    )


def order_body(answer: LineAnswer) -> str:
    """Return the sheet itself, every text of the line's escaped."""
    sheet = order_sheet(answer)
    return "\n".join(
        [
            f'<main class="order{" dense" if len(sheet.bends) + len(sheet.clearances) > ROOMY_ROWS else ""}">',
            f"<h1>Order: {escape(sheet.title)}</h1>",
            _facts(sheet.facts),
            _figures(route_views(answer), "views"),
            '<div class="ends">',
            _end(answer, sheet, 0), _clock(answer), _end(answer, sheet, 1),
            "</div>",
            '<div class="tables">',
            _table(BEND_TITLE, BEND_HEADINGS, sheet.bends),
            _table(CLEAR_TITLE, CLEAR_HEADINGS, sheet.clearances),
            "</div>",
            f'<p class="notes"><b>Notes</b> {escape(sheet.notes)}</p>' if sheet.notes else "",
            _cautions(sheet),
            '<p class="by">Asked by ____________________ &nbsp; Bay ____________ &nbsp; Wanted by ____________</p>',
            "</main>",
        ]
    )  # fmt: skip


def _facts(facts: Sequence[tuple[str, str]]) -> str:
    rows = "".join(
        f"<div{_across(text)}><dt>{escape(label)}</dt><dd>{escape(text)}</dd></div>" for label, text in facts
    )
    return f"<dl>{rows}</dl>"


def _across(text: str) -> str:
    """Whether a fact takes the whole width of the paper, where short ones stand two in a row."""
    return ' class="across"' if len(text) > HALF_WIDTH else ""


def _figures(drawn: Sequence[tuple[str, str]], name: str) -> str:
    figures = "".join(f"<figure>{svg}<figcaption>{escape(title)}</figcaption></figure>" for title, svg in drawn)
    return f'<div class="{name}">{figures}</div>'


def _end(answer: LineAnswer, sheet: OrderSheet, place: int) -> str:
    key, _, facts = sheet.ends[place]
    said = "; ".join(f"{label.lower()} {text}" if label != "End" else text for label, text in facts)
    return f"<figure>{end_drawing(answer.sheet.ends[place], key)}<figcaption>{escape(said)}</figcaption></figure>"


def _clock(answer: LineAnswer) -> str:
    face = clock_face(answer)
    if face is None:
        return "<p>No clock angle: an end can be turned on the hose.</p>" if not _both_elbows(answer) else ""
    return f"<figure>{face}<figcaption>Clock angle of the elbows</figcaption></figure>"


def _both_elbows(answer: LineAnswer) -> bool:
    return all(end.is_elbow for end in answer.sheet.ends)


def _table(title: str, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    if not rows:
        return ""
    head = "".join(f'<th scope="col">{escape(one.capitalize())}</th>' for one in headings)
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><caption>{escape(title)}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _cautions(sheet: OrderSheet) -> str:
    items = "".join(f"<li>{escape(one)}</li>" for one in sheet.cautions)
    return f'<section class="cautions"><h2>Cautions</h2><ul>{items}</ul></section>'
