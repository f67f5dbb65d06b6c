"""What a row says without saying it: a belt's designation holds its ribs, one of its lengths gives the others."""

from __future__ import annotations

from collections.abc import Callable

from kb.mechanics.belt_lengths import (
    effective_from_outside,
    effective_from_pitch,
    outside_from_effective,
    parse_designation,
    pitch_from_effective,
)
from kb.sheets.columns import Value

Columns = dict[str, list[Value]]
Told = Callable[[int, str, str], None]
"""Called with the row's place, a field and a reason, where what a row says contradicts itself."""


def complete_belts(values: Columns, rows: int, contradiction: Told) -> list[str]:
    """Fill in a batch of belts, in place; return what was assumed, as sentences."""
    for name in ("profile", "ribs", "section", "effective_length_mm", "outside_length_mm", "pitch_length_mm"):
        values.setdefault(name, [None] * rows)
    notes = _from_designations(values, rows, contradiction)
    profiles = values["profile"]
    ribs = values["ribs"]
    assumed = False
    if profiles.count(None) == rows and None not in ribs:  # a sheet of ribbed belts that names no profile
        values["profile"] = ["PK"] * rows
        assumed = rows > 0
    for place in range(rows) if not assumed else ():
        profile = profiles[place]
        if profile is not None:
            profiles[place] = str(profile).upper()
        elif ribs[place] is not None:
            profiles[place] = "PK"
            assumed = True
    if assumed:
        notes.append("Belts with ribs and no profile were taken as PK.")
    _lengths(values, rows)
    return notes


def _from_designations(values: Columns, rows: int, contradiction: Told) -> list[str]:
    given = values.get("designation")
    ribs, profiles, lengths = values["ribs"], values["profile"], values["effective_length_mm"]
    others = list(zip(values["outside_length_mm"], values["pitch_length_mm"], values["section"], strict=True))
    from_part_no = False
    for place, part_no in enumerate(values["part_no"]):
        text = given[place] if given is not None and given[place] is not None else None
        if text is None:
            if ribs[place] is not None or lengths[place] is not None or any(others[place]) or part_no is None:
                continue
            text = part_no
        parsed = parse_designation(str(text))
        if parsed is None:
            continue
        if ribs[place] is not None and ribs[place] != parsed[0]:
            contradiction(place, "ribs", f"the designation {text} says {parsed[0]} ribs, this column {ribs[place]}.")
            continue
        from_part_no = from_part_no or text is part_no
        ribs[place] = parsed[0]
        profiles[place] = profiles[place] or parsed[1]
        if lengths[place] is None and others[place][0] is None and others[place][1] is None:
            lengths[place] = parsed[2]
    return ["Ribs and lengths were read from part numbers written as ISO 9981 designations."] if from_part_no else []


def _lengths(values: Columns, rows: int) -> None:
    """Work out the lengths that were not given, for profiles whose geometry is known; say which one was given."""
    effective, outside, pitch = (values[f"{name}_length_mm"] for name in ("effective", "outside", "pitch"))
    profiles = values["profile"]
    given: list[Value] = ["effective"] * rows
    if profiles.count("PK") == rows == outside.count(None) == pitch.count(None) and None not in effective:
        values["length_given"] = given
        known = [float(length) for length in effective if length is not None]
        outside[:] = map(outside_from_effective, known)
        pitch[:] = map(pitch_from_effective, known)
        return
    for place in range(rows):
        e, o, p = effective[place], outside[place], pitch[place]
        if e is None:
            given[place] = "outside" if o is not None else "pitch"
        if profiles[place] != "PK":
            continue
        if e is None and o is not None:
            e = effective_from_outside(float(o))
        elif e is None and p is not None:
            e = effective_from_pitch(float(p))
        if e is not None:
            effective[place] = e
            outside[place] = outside_from_effective(float(e)) if o is None else o
            pitch[place] = pitch_from_effective(float(e)) if p is None else p
    values["length_given"] = given
