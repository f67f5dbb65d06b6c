"""Shop measurements: from what people write to numbers, and back.

Read: ``1857`` (in the unit that is meant) · ``1857 mm`` · ``185.7 cm`` · ``73.1 in`` · ``73 1/8 in`` · ``73-1/8"`` ·
``73⅛"`` · ``6 ft 1 1/8 in`` · ``6' 1-1/8"`` · ``1,857 mm`` · ``1857,5 mm`` · ``1.857,5 mm`` · ``1 857 mm``.

A comma before exactly three digits sets thousands apart (``1,857`` is 1857), unless nothing but a zero stands before it;
before any other number of digits it is a decimal comma. A single point is always a decimal point. Where the thousands
reading lies outside what the quantity can be, the text is refused with both readings: nothing is guessed.
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

from kb.errors import MeasurementError
from kb.quantities import LENGTH, PITCH, QUANTITIES, UNITS_OF, Quantity

__all__ = [
    "LENGTH", "QUANTITIES", "UNITS_OF", "Quantity", "both_text", "extract", "inches_text", "millimetres_text", "read",
    "unit_in_heading",
]  # fmt: skip

LONGEST = 80
"""Characters in the longest text that is looked at: no measurement is longer."""


def _folding() -> dict[int, str]:
    fold: dict[int, str] = {}
    for code in (*range(0xBC, 0xBF), *range(0x2150, 0x215F), 0x2189):
        top, _, bottom = unicodedata.normalize("NFKC", chr(code)).partition("\u2044")
        fold[code] = f" {top}/{bottom}"
    for characters, plain in (
        ("\u2044\u2215\uff0f", "/"),
        ("\u2032\u2018\u2019\u201b\u02b9\u00b4\u0060\uff07", "'"),
        ("\u2033\u201c\u201d\u201e\u201f\u02ba\u3003\uff02", '"'),
        ("\u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000\t", " "),
        ("\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d", "-"),
        ("\u200b\u200c\u200d\ufeff\u00d8\u2300\u00f8", ""),
    ):
        fold.update(dict.fromkeys(map(ord, characters), plain))
    return fold


_FOLD = _folding()
_PLAIN = re.compile(r"[0-9]{1,12}(?:\.[0-9]{1,12})?", re.ASCII)
_NUMBER = re.compile(
    r"""(?P<whole>[0-9]+)(?:\ +|\ *-\ *)(?P<top>[0-9]+)\ ?/\ ?(?P<bottom>[0-9]+)   # 73 1/8, 73-1/8
      | (?P<top2>[0-9]+)\ ?/\ ?(?P<bottom2>[0-9]+)                                # 3/8
      | (?P<comma>[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]+)?)                     # 1,857 and 1,857.5
      | (?P<point>[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+ | [0-9]{1,3}(?:\.[0-9]{3}){2,}) # 1.857,5
      | (?P<space>[0-9]{1,3}(?:\ [0-9]{3})+(?:[.,][0-9]+)?)                       # 1 857
      | (?P<decimal>[0-9]*[.,][0-9]+ | [0-9]+[.,]?)                               # 73.1, 1857,5, .5
    """,
    re.ASCII | re.VERBOSE,
)
_FEET = re.compile(r"(?P<feet>[0-9]+(?:[.,][0-9]+)?) ?(?:'|ft\.?|feet|foot)(?: ?- ?| )?(?P<rest>.+)", re.ASCII)
_PER_INCH = re.compile(r"(?P<count>.+?) ?(?:tpi|threads per inch|threads/in|per inch|/in)", re.ASCII)
_UNIT_TAIL = re.compile(
    r"""^(?P<text>.*?\S)\s*(?:
        [(\[{]\s*(?:in\s+)?(?P<bracket>[^)\]}]{1,12})\s*[)\]}]
      | ,\s*(?P<after>[^\s,]{1,12})
      | \s(?:in\s+)?(?P<word>mm|cm|inch|inches|ins|in|zoll|deg|degrees|psi|kpa|bar|nm|hours|hrs|rpm)\.?
      | (?P<mark>["\u2033°])
    )\s*$""",
    re.VERBOSE | re.IGNORECASE,
)
_EVERY_UNIT = frozenset().union(*UNITS_OF.values())


def read(
    value: str | float,
    quantity: Quantity,
    *,
    unit: str | None = None,
    low: float | None = None,
    high: float | None = None,
) -> float:
    """Read a measurement; return it in ``quantity.unit``.

    ``unit`` is what a bare number means, else the quantity's own; ``low`` and ``high`` bound the result, both allowed, in
    the quantity's own unit. Raises :class:`~kb.errors.MeasurementError` with what was read, what was expected and an example.

    >>> read("73 1/8 in", LENGTH)
    1857.375
    >>> read("6' 1-1/8\\"", LENGTH)
    1857.375
    >>> read("1857,5", LENGTH)
    1857.5
    """
    if isinstance(value, bool):
        raise _refused(str(value), quantity, "it is no number")
    if isinstance(value, (int, float)):
        text, number = f"{value:g}", float(value)
        if number - number != 0.0:
            raise _refused(text, quantity, "it is no number")
        measured = _scaled(number, unit, quantity, text)
    elif _PLAIN.fullmatch(value):
        text = value
        measured = _scaled(float(value), unit, quantity, text)
    else:
        text = value
        measured = _parsed(value, quantity, unit)
    return _within(measured, text, quantity, low, high)


def _parsed(text: str, quantity: Quantity, unit: str | None) -> float:
    if len(text) > LONGEST:
        raise _refused(text[:30] + "…", quantity, f"it is {len(text)} characters long")
    clean = " ".join(text.translate(_FOLD).split()).casefold()
    if not clean:
        raise _refused(text, quantity, "it is empty")
    sign = 1.0
    if clean[0] in "+-":
        sign = -1.0 if clean[0] == "-" else 1.0
        clean = clean[1:].lstrip()
    clean = clean.replace("''", '"')
    if quantity is PITCH and (per_inch := _PER_INCH.fullmatch(clean)):
        count = _number(per_inch["count"], text, quantity)
        if count <= 0:
            raise _refused(text, quantity, "a thread has more than no threads per inch")
        return sign * 25.4 / count
    if quantity is LENGTH and (feet := _FEET.fullmatch(clean)):
        inches = re.fullmatch(r"(.+?) ?(?:\"|in\.?|inch|inches)?", feet["rest"])
        assert inches is not None
        within = _number(inches[1], text, quantity)
        if within >= 12:
            raise _refused(text, quantity, "after feet there are less than 12 inches")
        return sign * (float(feet["feet"].replace(",", ".")) * 12 + within) * 25.4
    match = _NUMBER.match(clean)
    if match is None:
        raise _refused(text, quantity, "it does not begin with a number")
    tail = clean[match.end() :].strip().rstrip(".")
    if tail and tail not in quantity.units:
        raise _refused(text, quantity, f"{tail!r} is no unit of it")
    number = _value(match, text, quantity)
    return _scaled(sign * number, tail or unit, quantity, text)


def _number(written: str, text: str, quantity: Quantity) -> float:
    match = _NUMBER.fullmatch(written.strip())
    if match is None:
        raise _refused(text, quantity, f"{written.strip()!r} is no number")
    return _value(match, text, quantity)


def _value(match: re.Match[str], text: str, quantity: Quantity) -> float:
    if match["top"] or match["top2"]:
        top, bottom = int(match["top"] or match["top2"]), int(match["bottom"] or match["bottom2"])
        if bottom == 0 or bottom > 1024:
            raise _refused(text, quantity, f"a fraction with {bottom} below the line is no shop measurement")
        if match["top"] and top >= bottom:
            raise _refused(text, quantity, f"{top}/{bottom} beside a whole number is more than one")
        return float(Fraction(int(match["whole"] or 0)) + Fraction(top, bottom))
    if match["comma"]:
        return float(match["comma"].replace(",", ""))
    if match["point"]:
        return float(match["point"].replace(".", "").replace(",", "."))
    if match["space"]:
        return float(match["space"].replace(" ", "").replace(",", "."))
    return float(match["decimal"].replace(",", "."))


def _scaled(number: float, unit: str | None, quantity: Quantity, text: str) -> float:
    if unit is None or unit == quantity.unit:
        return number
    try:
        scale, offset = quantity.units[unit.casefold()]
    except KeyError:
        raise _refused(text, quantity, f"{unit!r} is no unit of it") from None
    return number * scale + offset


def _within(measured: float, text: str, quantity: Quantity, low: float | None, high: float | None) -> float:
    low = quantity.low if low is None else low
    high = quantity.high if high is None else high
    if quantity.positive and low is None and measured <= 0:
        raise _refused(text, quantity, "it should be more than nothing")
    if quantity.whole and measured != int(measured):
        raise _refused(text, quantity, "it should be a whole number")
    if (low is not None and measured < low) or (high is not None and measured > high):
        raise _refused(text, quantity, _outside(measured, quantity, low, high, text))
    return measured


def _outside(measured: float, quantity: Quantity, low: float | None, high: float | None, text: str) -> str:
    unit = f" {quantity.unit}" if quantity.unit else ""
    if low is None:
        bounds = f"at most {high:g}{unit}"
    elif high is None:
        bounds = f"at least {low:g}{unit}"
    else:
        bounds = f"between {low:g} and {high:g}{unit}"
    said = f"it is {measured:g}{unit} and should be {bounds}"
    comma = re.search(r"([0-9]+),([0-9]{3})(?![0-9])", text)
    if comma:
        said += f" (or is {comma[1]}.{comma[2]} meant? Then write it with a point)"
    return said


def _refused(text: str, quantity: Quantity, why: str) -> MeasurementError:
    return MeasurementError(
        f"{text.strip()!r} is not understood as {_article(quantity.name)}: {why}.", do=f"Example: {quantity.example}."
    )


def _article(name: str) -> str:
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"


def extract(text: str, quantity: Quantity) -> tuple[list[tuple[str, float]], str]:
    """Find the measurements in a sentence that are written with a unit; return them, and the sentence without them.

    >>> extract("8 rib belt 73 1/8 in", LENGTH)
    ([('73 1/8 in', 1857.375)], '8 rib belt')
    """
    units = sorted((re.escape(unit) for unit in quantity.units if unit != "'"), key=len, reverse=True)
    feet = r"(?:[0-9]+ ?(?:'|ft\.?|feet) ?-? ?)?" if quantity is LENGTH else ""
    number = r"(?:[0-9]+(?: ?- ?| )[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:[.,][0-9]+)*|[.][0-9]+)"
    pattern = re.compile(rf"(?<![\w./,-]){feet}{number} ?-?(?:{'|'.join(units)})(?![\w])\.?", re.IGNORECASE)
    folded = " ".join(text[:400].translate(_FOLD).replace("''", '"').split())
    found: list[tuple[str, float]] = []

    def take(match: re.Match[str]) -> str:
        written = match[0]
        try:
            value = read(re.sub(r"-(?=[a-zA-Z])", " ", written), quantity)
        except MeasurementError:
            return written
        found.append((written, value))
        return " "

    rest = pattern.sub(take, folded)
    return found, " ".join(rest.split())


def unit_in_heading(heading: str) -> tuple[str, str | None]:
    """Part a heading from the unit it names, if it names one.

    >>> unit_in_heading("Eff. Length (mm)")
    ('Eff. Length', 'mm')
    >>> unit_in_heading("Inside dia")
    ('Inside dia', None)
    """
    match = _UNIT_TAIL.match(heading[:LONGEST].strip())
    if match is None:
        return heading, None
    unit = next(filter(None, (match["bracket"], match["after"], match["word"], match["mark"]))).strip().casefold()
    unit = {"\u2033": '"', "n·m": "nm", "n-m": "nm"}.get(unit, unit).rstrip(".")
    if unit not in _EVERY_UNIT:
        return heading, None
    return match["text"].rstrip(" ,:-"), unit


def inches_text(mm: float, denominator: int = 16) -> str:
    """Return a length in inches to the nearest fraction, in lowest terms.

    >>> inches_text(1857.375)
    '73 1/8 in'
    """
    steps = round(abs(mm) / 25.4 * denominator)
    whole, part = divmod(steps, denominator)
    fraction = Fraction(part, denominator)
    sign = "-" if mm < 0 and steps else ""
    if not part:
        return f"{sign}{whole} in"
    return f"{sign}{f'{whole} ' if whole else ''}{fraction.numerator}/{fraction.denominator} in"


def millimetres_text(mm: float) -> str:
    """Return a length in millimetres to a tenth.

    >>> millimetres_text(1857.375)
    '1857.4 mm'
    """
    return f"{mm:.1f} mm" if round(mm, 1) != round(mm) else f"{round(mm)} mm"


def both_text(mm: float, first: str = "in") -> str:
    """Return a length in inches and millimetres side by side.

    >>> both_text(1857.375)
    '73 1/8 in (1857.4 mm)'
    """
    if first == "mm":
        return f"{millimetres_text(mm)} ({inches_text(mm)})"
    return f"{inches_text(mm)} ({millimetres_text(mm)})"
