"""A sum worked out without a shelf: its numbers, the facts to read, and the care it asks for; and how fluids are written."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from kb.errors import AnswerError, BayshelfError, MeasurementError
from kb.measure import LENGTH, QUANTITIES, read
from kb.reference.limits import Limit

QUART_L = 231 * 2.54**3 / 4000
"""The US quart, a quarter of 231 cubic inches (NIST Special Publication 811)."""
PSI_KPA = 6.894757
INHG_KPA = 3.386389


@dataclass(frozen=True, slots=True)
class Worked:
    """``says`` is the answer in a sentence, ``values`` its documented numbers, ``facts`` labels and texts to read."""

    says: str
    values: dict[str, object]
    facts: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...] = ()
    drawing: str = ""
    """An SVG picture, where a person would rather look."""

    def as_json(self) -> dict[str, object]:
        """Return the documented form."""
        return {**self.values, "notes": list(self.notes), "cautions": list(self.cautions)}


@contextmanager
def asking(do: str) -> Iterator[None]:
    """Turn an error of the arithmetic into an :class:`~kb.errors.AnswerError` that says what to do."""
    try:
        yield
    except BayshelfError:
        raise
    except ValueError as error:
        raise AnswerError(f"{error}.", do=do) from error


def lengths_in(text: str, count: int, what: str, example: str) -> tuple[float, ...]:
    """Read so many lengths, parted by commas or semicolons, each below or above nothing.

    Raises :class:`~kb.errors.MeasurementError`.

    >>> lengths_in("1/4 in, -3 mm", 2, "an offset", "0, 3 mm")
    (6.35, -3.0)
    """
    parts = [part.strip() for part in text.split(";" if ";" in text else ",")]
    if len(parts) != count:
        raise MeasurementError(
            f"{text!r} is not understood as {what}: it should be {count} lengths, and {len(parts)} are there.",
            do=f"Part them by commas, or by semicolons where a number has a decimal comma. Example: {example}",
        )
    return tuple(read(part, LENGTH, low=-2000.0, high=5000.0) for part in parts)


def volumes_in(text: str) -> tuple[float, ...]:
    """Read volumes parted by commas or semicolons, in litres.

    >>> volumes_in("1 gal, 5 L")
    (3.785411784, 5.0)
    """
    volume = QUANTITIES["volume"]
    return tuple(read(part.strip(), volume) for part in text.split(";" if ";" in text else ",") if part.strip())


def volume_text(litres: float) -> str:
    """Return a volume in litres, US quarts and gallons, or in millilitres and fluid ounces.

    >>> volume_text(11.4286), volume_text(0.15)
    ('11.4 L (12.1 US qt, 3.02 US gal)', '150 mL (5.1 US fl oz)')
    """
    if abs(litres) < 0.9:
        return f"{1000 * litres:.0f} mL ({32 * litres / QUART_L:.1f} US fl oz)"
    quarts = litres / QUART_L
    return f"{litres:.1f} L ({quarts:.1f} US qt, {quarts / 4:.2f} US gal)"


def temperature_text(temperature_c: float) -> str:
    """Return a temperature both ways.

    >>> temperature_text(-36.7)
    '-36.7 °C (-34 °F)'
    """
    return f"{temperature_c:.1f} °C ({temperature_c * 1.8 + 32:.0f} °F)"


def gauge_text(gauge_kpa: float) -> str:
    """Return what a gauge shows: below the air outside as inches of mercury.

    >>> gauge_text(191.5), gauge_text(-12.4)
    ('27.8 psi (191.5 kPa)', '3.7 inHg of vacuum (12.4 kPa below the air)')
    """
    if gauge_kpa < 0:
        return f"{-gauge_kpa / INHG_KPA:.1f} inHg of vacuum ({-gauge_kpa:.1f} kPa below the air)"
    return f"{gauge_kpa / PSI_KPA:.1f} psi ({gauge_kpa:.1f} kPa)"


def mass_text(grams: float) -> str:
    """Return a mass both ways.

    >>> mass_text(78.5)
    '78.5 g (2.77 oz)'
    """
    return f"{grams:.1f} g ({grams / 28.349523:.2f} oz)"


def limit_text(limit: Limit, value: float) -> str:
    """Return a limit of good practice and where a value lies; one from memory says so.

    >>> from kb.reference.limits import limit
    >>> limit_text(limit("evacuation", "vacuum to reach at sea level"), 28.4).split(" (")[0]
    'within: 28 to 29 inHg'
    """
    ends = [f"{end:g}" for end in (limit.low, limit.high) if end is not None]
    if limit.low is None:
        band = f"at most {ends[0]}"
    elif limit.high is None:
        band = f"at least {ends[0]}"
    else:
        band = " to ".join(dict.fromkeys(ends))
    source = limit.source if limit.checked else f"{limit.source}, from memory"
    return f"{limit.state(value)}: {band} {limit.unit} ({limit.applies_to or 'usual'}; {source})"
