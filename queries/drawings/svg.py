"""Writing SVG: elements with escaped text, numbers without idle digits, colours that follow the page.

Drawings are black on white by themselves; inside a page they take its ink and paper, so they stay readable in the dark,
in sunlight and in print. Nothing is told by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache, lru_cache
from html import escape

INK = "var(--ink, black)"
PAPER = "var(--paper, white)"


@lru_cache(maxsize=65536)  # a page's drawing is asked for again and again
def number(value: float) -> str:
    """Return a coordinate, to a hundredth.

    >>> number(12.5), number(-0.001), number(3.0)
    ('12.5', '0', '3')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def element(name: str, content: str = "", **attributes: object) -> str:
    """Return an element; underscores in attribute names stand for hyphens, floats become short numbers.

    >>> element("circle", cx=1.0, cy=2.0, r=3.5, stroke_width=1)
    '<circle cx="1" cy="2" r="3.5" stroke-width="1"/>'
    """
    said = "".join(
        f' {_name(key)}="{number(value) if isinstance(value, float) else escape(str(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{said}>{content}</{name}>" if content else f"<{name}{said}/>"


@cache
def _name(key: str) -> str:
    return key.rstrip("_").replace("_", "-")


def text(x: float, y: float, said: str, size: float, **attributes: object) -> str:
    """Return a line of text with a halo of paper, so that it reads across lines."""
    return element("text", escape(said), x=float(x), y=float(y), **{**_lettered(size), **attributes})


def texts(said: Iterable[tuple[float, float, str]], size: float) -> str:
    """Return lines of text of one size: where each stands, x and y, and what it says."""
    lines = (f'<text x="{number(x)}" y="{number(y)}">{escape(line)}</text>' for x, y, line in said)
    return element("g", "".join(lines), **_lettered(size))


def _lettered(size: float) -> dict[str, object]:
    return {
        "text_anchor": "middle", "paint_order": "stroke", "stroke": PAPER, "stroke_width": size / 4,
        "stroke_linejoin": "round", "fill": INK, "font_size": float(size),
    }  # fmt: skip


def drawing(box: tuple[float, float, float, float], title: str, description: str, parts: Iterable[str]) -> str:
    """Return a whole drawing; ``box`` is left, top, width and height. A screen reader hears title and description."""
    left, top, width, height = map(number, box)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left} {top} {width} {height}" role="img" '
        f'font-family="system-ui, sans-serif"><title>{escape(title)}</title><desc>{escape(description)}</desc>'
        f"{''.join(parts)}</svg>"
    )
