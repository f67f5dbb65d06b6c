"""Practice limits, from ``practice_limits.csv``: each with its source, and whether it was checked or only remembered."""

from __future__ import annotations

from dataclasses import dataclass

from kb.reference.tables import is_checked, table


@dataclass(frozen=True, slots=True)
class Limit:
    """A band of good practice in ``unit``; either end may be open. A limit that was not checked only ever warns."""

    parameter: str
    low: float | None
    high: float | None
    unit: str
    applies_to: str
    caution: str
    source: str
    status: str
    checked: bool

    def state(self, value: float) -> str:
        """Return ``within`` or ``outside``."""
        below = self.low is not None and value < self.low
        above = self.high is not None and value > self.high
        return "outside" if below or above else "within"

    def as_json(self, value: float | None = None) -> dict[str, object]:
        """Return the documented form, with the state of a value where one is given."""
        told: dict[str, object] = {
            "limit": self.parameter, "low": self.low, "high": self.high, "unit": self.unit, "applies_to": self.applies_to,
            "source": self.source, "status": self.status,
        }  # fmt: skip
        return told if value is None else {**told, "value": round(value, 3), "state": self.state(value)}


def limit(topic: str, parameter: str) -> Limit:
    """Return one limit by its topic and parameter; ``KeyError`` where there is none."""
    for row in table("practice_limits"):
        if row["topic"] == topic and row["parameter"] == parameter:
            return Limit(
                parameter, _number(row["value_low"]), _number(row["value_high"]), row["unit"], row["applies_to"],
                row["caution"], row["source"], row["status"], is_checked(row),
            )  # fmt: skip
    raise KeyError(f"{topic}: {parameter}")


def _number(text: str) -> float | None:
    return float(text) if text else None
