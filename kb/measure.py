"""Shop measurements: from what people write to numbers, and back.

Read: ``1857`` (in the unit that is meant) · ``1857 mm`` · ``185.7 cm`` · ``73.1 in`` · ``73 1/8 in`` · ``73-1/8"`` ·
``73⅛"`` · ``6 ft 1 1/8 in`` · ``6' 1-1/8"`` · ``1,857 mm`` · ``1857,5 mm`` · ``1.857,5 mm`` · ``1 857 mm``.

What a comma, a point or a space means:

* With both a comma and a point, the last one is the decimal mark: ``1,857.5`` and ``1.857,5`` are the same.
* A comma or a space before exactly three digits sets thousands apart: ``1,857`` is 1857. Not where the first digit is
  a zero (``0,857``) or more than three digits stand before it (``1857,500``): there it is a decimal comma, as before
  any other number of digits (``1857,5``).
* In a unit seldom counted in thousands (inches, feet, metres, bar, kilograms …) the same text is refused with both
  readings: ``73,125 in``. Any number outside what the quantity can be is refused, with its other reading if it has one.
* A single point is always a decimal point.

What a fraction means: ``73 1/8`` and ``73-1/8`` are a whole number and a fraction below one. A fraction alone may be
above one (``5/4``, ``19/8``), unless its digits could be a whole number and a fraction run together: ``73/8`` may be 7 3/8,
and is refused. A bare fraction is not taken for millimetres, which nobody writes so: it needs its inch mark, or inches as
what is meant.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from functools import cache, lru_cache
from typing import NamedTuple

from kb.errors import MeasurementError
from kb.quantities import LENGTH, QUANTITIES, UNITS_OF, Quantity
from kb.unit_spellings import FOLD, LONGEST, SPELT_OUT, VULGAR_FRACTIONS, spelling_of, unit_in_heading

__all__ = [
    "LENGTH", "QUANTITIES", "UNITS_OF", "Found", "Quantity", "both_text", "found_in", "inches_text", "millimetres_text",
    "read", "unit_in_heading",
]  # fmt: skip

_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉", "01234567890123456789")
_RAISED_FRACTION = re.compile("([⁰¹²³⁴-⁹]{1,4})[/⁄∕]([₀-₉]{1,4})")

_plain_number = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,9})?").fullmatch
_HEAD = re.compile(r"\.?[0-9][0-9.,/ -]*")
_NUMBER = re.compile(
    r"""(?P<plain>[0-9]+\.?[0-9]*|\.[0-9]+)
      | (?:(?P<whole>[0-9]+)(?:\ |-\ ?))?(?P<top>[0-9]+)\ ?/\ ?(?P<bottom>[0-9]+)
      | (?P<english>[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]+)?)
      | (?P<german>[1-9][0-9]{0,2}(?:(?:\.[0-9]{3})+,[0-9]+|(?:\.[0-9]{3}){2,}))
      | (?P<spaced>[1-9][0-9]{0,2}(?:\ [0-9]{3})+(?:[.,][0-9]+)?)
      | (?P<comma>[0-9]+,[0-9]+)""",
    re.VERBOSE,
)
_EITHER = re.compile(r"([1-9][0-9]{0,2})([, .])([0-9]{3})")
_FEET = re.compile(
    r"(?P<feet>[0-9]{1,5}) ?(?:'|ft\.?|feet|foot)[ -]{0,3}(?P<rest>[0-9.][0-9.,/ -]*)(?:\"|in\.?|ins|inch|inches)?"
)
_MOST_DIGITS = 15
_LARGEST_BOTTOM = 1024


def read(
    value: str | float,
    quantity: Quantity,
    *,
    unit: str | None = None,
    low: float | None = None,
    high: float | None = None,
) -> float:
    """Read a measurement; return it in ``quantity.unit``, a converted one rounded to nine decimals (6 in is 152.4 mm).

    ``unit`` is what a bare number means, else the quantity's own; ``low`` and ``high`` bound the result, both allowed,
    in the quantity's own unit. Raises :class:`~kb.errors.MeasurementError` with what was read, what was expected and
    an example.

    >>> read("73 1/8 in", LENGTH)
    1857.375
    >>> read("6' 1-1/8\\"", LENGTH)
    1857.375
    >>> read("1857,5", LENGTH)
    1857.5
    """
    if isinstance(value, str):
        number = (
            _scaled(float(value), unit, quantity, value) if _plain_number(value) else _parsed(value, quantity, unit)
        )
    else:
        number = _scaled(_finite(value, quantity), unit, quantity, value)
    if low is None:
        low = quantity.low
    if high is None:
        high = quantity.high
    if low is not None and high is not None and low <= number <= high and not quantity.whole:
        return number
    return _within(number, value, quantity, low, high)


def _finite(value: object, quantity: Quantity) -> float:
    """Return a worksheet's or a program's number, numpy's too; refuse truth values, and what is none."""
    from numbers import Real  # plain texts do not need it

    if isinstance(value, bool) or not isinstance(value, Real):
        raise _refused(value, quantity, "it is no number")
    try:
        number = float(value)
    except OverflowError:
        raise _refused("a number of hundreds of digits", quantity, "no measurement has so many") from None
    if not math.isfinite(number):
        raise _refused(value, quantity, "it is no number")
    return number


def _parsed(text: str, quantity: Quantity, unit: str | None) -> float:
    clean = _cleaned(text, quantity)
    sign = 1.0
    if clean[0] in "+-":
        sign = -1.0 if clean[0] == "-" else 1.0
        clean = clean[1:].lstrip()
    if quantity is LENGTH and (feet := _FEET.fullmatch(clean)):
        inches = _number(feet["rest"].rstrip(" -"), text, quantity)[0]
        if inches >= 12:
            raise _refused(text, quantity, "after feet there are less than 12 inches")
        return _scaled(sign * (int(feet["feet"]) * 12 + inches), "in", quantity, text)
    match = _HEAD.match(clean)
    if match is None:
        raise _refused(text, quantity, "it does not begin with a number")
    head, tail = _parted(match[0], clean[match.end() :])
    number, form = _number(head, text, quantity)
    named = spelling_of(tail, quantity)
    if tail and named is None:
        raise _refused(text, quantity, f"{_shown(tail)} is no unit of it")
    _unmistakable(head, form, named, unit, text, quantity)
    return _scaled(sign * number, named or unit, quantity, text)


def _cleaned(text: str, quantity: Quantity) -> str:
    """Return the text with plain characters, single spaces and small letters; refuse what is too long or empty."""
    if len(text) > LONGEST:
        raise _refused(text, quantity, f"it is {len(text)} characters long")
    if text.isascii():
        plain = text.replace("`", "'")
    else:
        level = _RAISED_FRACTION.sub(lambda found: f" {found[1]}/{found[2]}".translate(_RAISED), text)
        plain = level.strip("\u200b\ufeff").translate(SPELT_OUT)
    clean = " ".join(plain.split()).casefold().replace("''", '"')
    if quantity is LENGTH:
        clean = clean.lstrip("ø⌀∅ ")  # a drawing's sign for a diameter
    if not clean:
        raise _refused(text, quantity, "it is empty")
    return clean


def _parted(head: str, tail: str) -> tuple[str, str]:
    """Part the number from its unit: ``73-inch`` has a hyphen between them, and ``1/min`` begins like a number."""
    if head.endswith(" 1/"):
        return head[:-3], f"1/{tail}"
    if head.endswith("/"):
        return head[:-1].rstrip(), f"/{tail}"
    if head.endswith("-") and tail[:1].isalpha():
        head = head[:-1]
    return head.rstrip(), tail.strip()


def _number(head: str, text: str, quantity: Quantity) -> tuple[float, str]:
    """Return the number and which of the forms it was written in."""
    match = _NUMBER.fullmatch(head)
    if match is None:
        raise _refused(text, quantity, f"{_shown(head)} is no number")
    if sum(map(str.isdigit, head)) > _MOST_DIGITS:
        raise _refused(text, quantity, f"no measurement has more than {_MOST_DIGITS} digits")
    form = match.lastgroup or ""
    if form == "bottom":
        return _fraction(match, text, quantity), form
    if form == "english":
        head = head.replace(",", "")
    elif form == "german":
        head = head.replace(".", "")
    return float(head.replace(" ", "").replace(",", ".")), form


def _fraction(match: re.Match[str], text: str, quantity: Quantity) -> float:
    whole, top, bottom = match["whole"], int(match["top"]), int(match["bottom"])
    if not 2 <= bottom <= _LARGEST_BOTTOM:
        raise _refused(text, quantity, f"a fraction with {bottom} below the line is no shop measurement")
    if whole is None:
        apart = _apart(match["top"], bottom) if top >= bottom else []
        if apart:
            said = f"{top}/{bottom} is one or more, and may be {' or '.join(apart)} run together"
            raise _refused(text, quantity, said)
        return top / bottom
    if top >= bottom:
        raise _refused(text, quantity, f"{top}/{bottom} beside a whole number is one or more")
    return (int(whole) * bottom + top) / bottom


def _apart(digits: str, bottom: int) -> list[str]:
    """Return the whole numbers with a fraction below one that digits over ``bottom`` may be, run together."""
    places = range(len(digits) - 1, 0, -1)
    return [f"{digits[:at]} {digits[at:]}/{bottom}" for at in places if digits[at] != "0" and int(digits[at:]) < bottom]


def _unmistakable(head: str, form: str, named: str | None, unit: str | None, text: str, quantity: Quantity) -> None:
    """Refuse what could be read in two ways; the module's heading has the rules."""
    if form == "bottom":
        if named is None and _short(unit, quantity) in quantity.decimal_units:
            raise _refused(
                text, quantity, "a fraction needs its unit", f'Write {head} in or {head}", if inches are meant.'
            )
    elif form in ("english", "spaced") and quantity.either_comma:
        either = _EITHER.fullmatch(head)
        short = _short(named or unit, quantity)
        if either and short in quantity.either_comma:
            whole, decimal = f"{either[1]}{either[3]}", f"{either[1]}.{either[3]}"
            raise _refused(text, quantity, f"it could be {whole} or {decimal} {short}", "Write the one that is meant.")


def _short(unit: str | None, quantity: Quantity) -> str:
    return quantity.short.get(spelling_of(unit or quantity.unit, quantity) or "", "")


def _scaled(number: float, unit: str | None, quantity: Quantity, text: object) -> float:
    if unit is None or unit == quantity.unit:
        if unit is None and quantity.needs_unit and number:
            units = dict.fromkeys(quantity.short.values())
            raise _refused(text, quantity, f"its unit is missing, and it could be {' or '.join(units)}")
        return number
    spelling = spelling_of(unit, quantity)
    if spelling is None:
        raise _refused(text, quantity, f"{_shown(unit)} is no unit of it")
    if spelling in quantity.reciprocal:
        if number <= 0:
            raise _refused(text, quantity, "it should be more than nothing")
        return round(quantity.reciprocal[spelling] / number, 9)
    scale, offset = quantity.units[spelling]
    return round(number * scale + offset, 9)


def _within(number: float, text: object, quantity: Quantity, low: float | None, high: float | None) -> float:
    if quantity.positive and low is None and number <= 0:
        raise _refused(text, quantity, "it should be more than nothing")
    if quantity.whole and number != int(number):
        raise _refused(text, quantity, "it is no whole number")
    if (low is not None and number < low) or (high is not None and number > high):
        raise _refused(text, quantity, _outside(number, text, quantity, low, high))
    return number


def _outside(number: float, text: object, quantity: Quantity, low: float | None, high: float | None) -> str:
    unit = f" {quantity.unit}" if quantity.unit else ""
    if low is None:
        bounds = f"{'more than nothing and ' if quantity.positive else ''}at most {_decimal(high)}{unit}"
    elif high is None:
        bounds = f"at least {_decimal(low)}{unit}"
    else:
        bounds = f"between {_decimal(low)} and {_decimal(high)}{unit}"
    said = f"it reads as {_decimal(number)}{unit} and should be {bounds}"
    either = _EITHER.search(text) if isinstance(text, str) else None
    if either:
        other = f"{either[1]}{either[3]}" if either[2] == "." else f"{either[1]}.{either[3]}"
        said += f"; if {other} is meant, write it so"
    elif quantity.reciprocal and high is not None and number > high:
        said += "; threads per inch are written 14 tpi"
    return said


def _decimal(number: float | None) -> str:
    return f"{number or 0.0:.3f}".rstrip("0").rstrip(".")


def _shown(value: object) -> str:
    said = value if isinstance(value, str) else f"{value!r:.41}"
    return repr(said if len(said) <= 40 else said[:40] + "…")


def _refused(value: object, quantity: Quantity, why: str, do: str = "") -> MeasurementError:
    shorts = list(dict.fromkeys(quantity.short.values()))
    units = f" with its unit ({', '.join(shorts)})" if len(shorts) > 1 else ""
    expected = do or f"Write {quantity.said}{units}."
    return MeasurementError(
        f"{_shown(value)} is not understood as {quantity.said}: {why}.", do=f"{expected} Example: {quantity.example}"
    )


class Found(NamedTuple):
    """A measurement in a longer text: ``text[start:end]`` is ``written``; ``value`` is in the quantity's own unit."""

    start: int
    end: int
    written: str
    value: float
    unit_written: bool


_COUNTED = (
    r"ribs?|rippen|grooves?|rillen|holes?|bolts?|teeth|pk|pj|ph|pl|pm|pcs?|pieces?|off|x|plys?|plies|bays?|ends?|way|"
    r"in (?:stock|the|a|an|one|this|that|each|my|our|bay|shop|store|front)"
)


@cache
def _finder(quantity: Quantity) -> re.Pattern[str]:
    """Return the pattern of a measurement in a sentence; its repetitions are bounded, so that it stays linear."""
    number = (
        r"(?:[0-9]{1,6}(?: |- ?)[0-9]{1,4} ?/ ?[0-9]{1,4}"
        rf"|(?:[0-9]{{1,6}}[ -]?|(?<![0-9][ -]))[{VULGAR_FRACTIONS}]"
        r"|(?<![0-9][ -])[0-9]{1,4} ?/ ?[0-9]{1,4}"
        r"|[1-9][0-9]{0,2}(?: [0-9]{3}){1,2}(?:[.,][0-9]{1,9})?(?![0-9])"
        r"|[0-9]{1,12}(?:[.,][0-9]{1,9}){0,4}|\.[0-9]{1,9})"
    )
    feet = r"[0-9]{1,5} ?(?:'|ft\.?|feet|foot)[ -]{0,3}" if quantity is LENGTH else "(?!)"
    inch = r" ?(?:\"|''|(?:inches|inch|ins|in)\b\.?)"
    units = "|".join(map(_unit_pattern, quantity.written)) or "(?!)"
    others = "|".join({_joints(one) for each in QUANTITIES.values() for one in each.written if one[0].isalpha()})
    return re.compile(
        rf"(?<![\w.,/#-])(?<![\w{VULGAR_FRACTIONS}][\"'])(?:[+-] ?(?![ -]))?"
        rf"(?:(?P<feet>{feet}{number}(?:{inch})?)"
        rf"|(?P<unit>{number} ?-?(?!(?:{_COUNTED})\b)(?:{units}))"
        # A number whose unit is another quantity's, or that is the whole number of a fraction, does not stand alone.
        rf"|(?P<bare>(?!0[0-9]){number})(?! ?-?(?:{_COUNTED}|{others})\b| ?[°%{VULGAR_FRACTIONS}]|['\"]|[ -][0-9]+ ?/))"
        rf"(?![\w{VULGAR_FRACTIONS}/%°]|[.,-]\w)",
        re.IGNORECASE,
    )


def _unit_pattern(written: str) -> str:
    # No unit ends inside a word or another unit: 45 Nm/deg is no torque, 45 °C no angle.
    return _joints(written) + (r"(?![\w²³]| ?/ ?\w)" if written[-1].isalnum() else r"(?! ?[a-z]\b)")


def _joints(written: str) -> str:
    return re.escape(written).replace(r"\.", "[ .·*-]?").replace("2", "[2²]")


def found_in(
    text: str,
    quantity: Quantity,
    *,
    unit: str | None = None,
    low: float | None = None,
    high: float | None = None,
) -> list[Found]:
    """Find the measurements in a sentence, such as what is typed into a search box, in their order.

    A number without a unit counts too (``unit_written`` is false), in ``unit`` or the quantity's own, unless it counts
    something (``8 rib``), is of another quantity (``24 V``) or is part of a longer word (``8PK1854``). What
    :func:`read` would refuse, within ``low`` and ``high``, is left out: nothing is raised but for a bad ``unit``.

    >>> [(one.written, one.value) for one in found_in("8 rib belt 73 1/8 in", LENGTH)]
    [('73 1/8 in', 1857.375)]
    """
    return list(_found(text, quantity, unit, low, high))


def _found(text: str, quantity: Quantity, unit: str | None, low: float | None, high: float | None) -> Iterator[Found]:
    if unit is not None and unit != quantity.unit and spelling_of(unit, quantity) is None:
        raise _refused(unit, quantity, "it is no unit")
    for match in _finder(quantity).finditer(text.translate(FOLD)):
        start, end = match.span()
        try:
            value = read(text[start:end], quantity, unit=unit, low=low, high=high)
        except MeasurementError:
            continue
        yield Found(start, end, text[start:end], value, match["bare"] is None)


@lru_cache(maxsize=8192)  # pages and tables say the same few lengths over and over
def inches_text(mm: float, denominator: int = 16) -> str:
    """Return a length in inches to the nearest fraction, in lowest terms; ``ValueError`` if it is not finite.

    >>> inches_text(1857.375)
    '73 1/8 in'
    """
    _check_finite(mm)
    steps = round(abs(mm) / 25.4 * denominator)
    whole, part = divmod(steps, denominator)
    sign = "-" if mm < 0 and steps else ""
    if not part:
        return f"{sign}{whole} in"
    common = math.gcd(part, denominator)
    return f"{sign}{f'{whole} ' if whole else ''}{part // common}/{denominator // common} in"


@lru_cache(maxsize=8192)  # pages and tables say the same few lengths over and over
def millimetres_text(mm: float, decimals: int = 1) -> str:
    """Return a length in millimetres, to a tenth unless told otherwise, no idle zeros; ``ValueError`` if not finite.

    >>> millimetres_text(1857.375)
    '1857.4 mm'
    """
    _check_finite(mm)
    said = f"{mm:.{decimals}f}"
    if "." in said:
        said = said.rstrip("0").rstrip(".")
    return f"{'0' if said == '-0' else said} mm"


@lru_cache(maxsize=8192)  # pages and tables say the same few lengths over and over
def both_text(mm: float, first: str = "in", denominator: int = 16) -> str:
    """Return a length in inches and millimetres side by side; ``first`` is ``in`` or ``mm``.

    >>> both_text(1857.375)
    '73 1/8 in (1857.4 mm)'
    """
    if first == "mm":
        return f"{millimetres_text(mm)} ({inches_text(mm, denominator)})"
    return f"{inches_text(mm, denominator)} ({millimetres_text(mm)})"


def _check_finite(mm: float) -> None:
    if not math.isfinite(mm):
        raise ValueError(f"a length must be finite to be written, not {mm}")
