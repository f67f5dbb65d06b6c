"""A measurement on its scale: where the limits lie, where it was found, where it was left. Shape and words, no colours."""

from __future__ import annotations

from html import escape

WIDTH, HEIGHT = 320, 58
_LEFT, _RIGHT, _LINE = 14.0, 306.0, 30.0


def scale_svg(
    low: float | None, high: float | None, found: float | None, left: float | None, unit: str, name: str
) -> str:
    """Return an SVG picture: the range between the limits as an open box, ``found`` a ring, ``left`` a solid wedge.

    All numbers in ``unit``; an end that is ``None`` is open, and the box runs on to the picture's edge. Empty where there is
    no limit or no measurement to show. It is told in words as its title, for those who do not see it.

    >>> "as left 14.1 V" in scale_svg(13.8, 14.5, 13.2, 14.1, "V", "charging")
    True
    """
    known = [value for value in (low, high, found, left) if value is not None]
    if (low is None and high is None) or (found is None and left is None):
        return ""
    spread = max(known) - min(known) or abs(known[0]) * 0.1 or 1.0
    start, end = min(known) - 0.18 * spread, max(known) + 0.18 * spread

    def at(value: float) -> float:
        return round(_LEFT + (value - start) / (end - start) * (_RIGHT - _LEFT), 1)

    shapes = [f'<path d="M{_LEFT:g} {_LINE:g}H{_RIGHT:g}" stroke-width="1"/>', _box(low, high, at)]
    texts = [_text(at(value), 54, f"{value:g}") for value in (low, high) if value is not None]
    if found is not None:
        shapes.append(f'<circle cx="{at(found)}" cy="{_LINE:g}" r="5" stroke-width="2"/>')
        texts.append(_text(at(found), 12, "found"))
    if left is not None:
        place = at(left)
        shapes.append(f'<path d="M{place} {_LINE:g}l-6 -11h12z" fill="currentColor" stroke-width="1"/>')
        if found is None or abs(at(found) - place) > 34:
            texts.append(_text(place, 12, "left"))
    words = _words(low, high, found, left, unit, name)
    return (
        f'<svg class="scale" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" role="img" '
        f'xmlns="http://www.w3.org/2000/svg"><title>{escape(words)}</title>'
        f'<g fill="none" stroke="currentColor">{"".join(shapes)}</g>'
        f'<g fill="currentColor" font-size="11" text-anchor="middle">{"".join(texts)}</g></svg>'
    )


def _box(low: float | None, high: float | None, at: object) -> str:
    """The range within the limits; an open end has no closing stroke."""
    assert callable(at)
    top, bottom = _LINE - 8, _LINE + 8
    first = _LEFT if low is None else at(low)
    last = _RIGHT if high is None else at(high)
    ends = "".join(f"M{place} {top:g}V{bottom:g}" for place, end in ((first, low), (last, high)) if end is not None)
    return f'<path d="M{first} {top:g}H{last}M{first} {bottom:g}H{last}{ends}" stroke-width="2.5"/>'


def _text(x: float, y: float, text: str) -> str:
    return f'<text x="{min(max(x, 16.0), WIDTH - 16.0)}" y="{y:g}">{escape(text)}</text>'


def _words(low: float | None, high: float | None, found: float | None, left: float | None, unit: str, name: str) -> str:
    said = [f"as {word} {value:g} {unit}: {place_words(value, low, high)}" for word, value in
            (("found", found), ("left", left)) if value is not None]  # fmt: skip
    return f"{name}: {'; '.join(said)}"


def place_words(value: float, low: float | None, high: float | None) -> str:
    """Return where a value lies against its limits, in words.

    >>> place_words(13.2, 13.8, 14.5), place_words(14.1, 13.8, None)
    ('below', 'within')
    """
    if low is not None and value < low:
        return "below"
    return "above" if high is not None and value > high else "within"
