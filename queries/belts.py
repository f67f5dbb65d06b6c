"""Belts by what was measured: how long, how many ribs, how wide."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, replace
from heapq import heapify, heappop, heapreplace

from kb.errors import AnswerError
from kb.measure import both_text
from kb.mechanics.belt_lengths import WAYS, effective_length, parse_designation, window_mm
from queries.answers import Answer, apart
from queries.belt_rows import (
    BESIDE,
    COLUMNS,
    EQUIVALENT_MM,
    SAME_MM,
    BeltRow,
    Compared,
    Listed,
    belt_rows,
    listed,
    width_text,
)

__all__ = ["EQUIVALENT_MM", "BeltQuestion", "BeltRow", "ask_belts"]

TOP_WIDTH_MM = 0.8
"""How far a V-belt's top width may be from the caliper's reading: common practice, no source."""

_NEAREST = 5
_ANY = 1e9
_FROM = "FROM belt JOIN supplier ON supplier.id = supplier_id"
_TEXT_HITS = 500
_EXACT_MM = 0.0005


@dataclass(frozen=True, slots=True)
class BeltQuestion:
    """What was measured; lengths in mm, ``measured`` one of the ways of :mod:`kb.mechanics.belt_lengths`."""

    text: str | None = None
    length_mm: float | None = None
    ribs: int | None = None
    measured: str = "effective"
    string_thickness_mm: float | None = None
    profile: str | None = None
    top_width_mm: float | None = None
    within_mm: float | None = None
    limit: int = 10

    @property
    def window_mm(self) -> float:
        """How far off a belt may be: as asked, else two doubts of the way of measuring."""
        return self.within_mm if self.within_mm is not None else window_mm(self.measured)


def ask_belts(connection: sqlite3.Connection, question: BeltQuestion) -> Answer[BeltRow]:
    """Find belts, best first. Raises :class:`~kb.errors.AnswerError` where nothing, too little or nonsense was asked.

    The whole answer is of one moment of the shelf, whatever is loaded meanwhile.
    """
    if connection.in_transaction:
        return _ask(connection, question)
    # Each statement outside a transaction takes and gives back the file's lock, which costs as much as a short walk.
    connection.execute("BEGIN")
    try:
        return _ask(connection, question)
    finally:
        connection.execute("COMMIT")


def _ask(connection: sqlite3.Connection, question: BeltQuestion) -> Answer[BeltRow]:
    question = _with_designation(question)
    if question.measured not in WAYS:
        raise AnswerError(f"{question.measured!r} is no way of measuring.", do=f"Known: {', '.join(WAYS)}.")
    if question.measured == "string" and question.length_mm is not None and question.string_thickness_mm is None:
        raise AnswerError("a string's thickness is needed.", do="Give --string-thickness, such as 2 mm.")
    if question.text:
        return _by_text(connection, question)
    if question.top_width_mm is not None:
        return _v_belts(connection, question)
    if question.length_mm is None and question.ribs is None and question.profile is None:
        raise AnswerError("nothing was asked.", do='Give --length, --ribs, --top-width or words: --length "73 1/8 in".')
    return _ribbed(connection, question)


def _with_designation(question: BeltQuestion) -> BeltQuestion:
    """Take an ISO 9981 designation apart; options beside it may repeat what it says, not contradict it."""
    parsed = parse_designation(question.text) if question.text else None
    if parsed is None:
        return question
    ribs, profile, length = parsed
    for name, said, option in (
        ("--ribs", ribs, question.ribs),
        ("--profile", profile, question.profile.upper() if question.profile else None),
        ("--length", length, question.length_mm),
    ):
        if option is not None and option != said:
            raise AnswerError(f"{question.text} and {name} contradict each other.", do=f"Leave {name} out.")
    return replace(question, text=None, ribs=ribs, profile=profile, length_mm=length, measured="effective")


def _compared(question: BeltQuestion, profile: str | None) -> Compared:
    """What to hold belts of a profile against; V-belts have none.

    Only PK's heights over the effective line are known: belts of other profiles are compared in the kind of length
    that was measured. A string laid round the rims lies on the effective line of any of them, half its thickness off.
    """
    way = WAYS[question.measured]
    if question.length_mm is None:
        return Compared("effective_length_mm", None, way.doubt_mm)
    if profile == "PK" or question.measured in ("effective", "string"):
        asked = effective_length(question.length_mm, question.measured, question.string_thickness_mm)
        return Compared("effective_length_mm", asked, way.doubt_mm)
    return Compared(
        f"{question.measured}_length_mm", question.length_mm, way.doubt_mm, f"compared as {question.measured} length"
    )


def _ribbed(connection: sqlite3.Connection, question: BeltQuestion) -> Answer[BeltRow]:
    profile = (question.profile or "PK").upper()
    compared = _compared(question, profile)
    exact = _walk(connection, profile, question.ribs, compared, question.window_mm, question.limit)
    rows = belt_rows(connection, exact, compared, question.limit)
    notes = list(_notes(question))
    if question.ribs is not None and compared.asked_mm is not None and len(rows) < question.limit:
        standing_in = _stand_ins(connection, question, profile, compared, question.limit - len(rows))
        if standing_in and not rows:
            notes.append(f"No belt with {question.ribs} ribs is that long: these would have to stand in.")
        rows += standing_in
    misses: list[BeltRow] = []
    if not rows and compared.asked_mm is not None:
        nearest = _walk(connection, profile, question.ribs, compared, _ANY, _NEAREST)
        misses = belt_rows(connection, nearest, compared, _NEAREST)
    return Answer(rows, misses, _understood(question, compared, profile), tuple(notes))


def _walk(
    connection: sqlite3.Connection, profile: str, ribs: int | None, compared: Compared, within: float, limit: int
) -> list[Listed]:
    """Walk the index outwards from the asked length, nearest first: the cost does not grow with the window.

    Belts as far off as the last one come along beyond the limit, up to a bound: their names or jobs may put them first.
    """
    column, asked = compared.column, compared.asked_mm
    start, last = (0.0, _ANY) if asked is None else (asked, within)
    most = limit if asked is None else limit + BESIDE
    counts = list(_rib_counts(connection, profile)) if ribs is None else [ribs]
    walks = [
        listed(
            connection,
            # With no length asked for, the walk from nothing upwards lists the shortest first.
            f"SELECT abs({column} - ?1), {COLUMNS} {_FROM} WHERE profile = ?2 AND ribs = ?3 "
            f"AND {column} {bound} ?1 ORDER BY {column} {order} LIMIT ?4",
            (start, profile, count, most),
        )
        for count in counts
        for bound, order in ((">=", "ASC"), ("<", "DESC"))
    ]
    taken: list[Listed] = []
    for row in _nearest_first(walks):
        if row.away_mm > last or len(taken) == most:
            break
        taken.append(row)
        if len(taken) == limit:
            last = min(last, row.away_mm + _EXACT_MM)
    if asked is not None and len(taken) >= limit:
        beyond = taken[-1].away_mm + _EXACT_MM
        taken += _used_beside(connection, profile, counts, compared, (beyond, min(beyond + SAME_MM, within)))
    return taken


def _nearest_first(walks: list[Iterator[Listed]]) -> Iterator[Listed]:
    """Merge walks that lead away from one length; no row is read before it is its turn."""
    heads = [(row.away_mm, place, row) for place, walk in enumerate(walks) if (row := next(walk, None)) is not None]
    heapify(heads)
    while heads:
        _, place, row = heads[0]
        yield row
        following = next(walks[place], None)
        if following is None:
            heappop(heads)
        else:
            heapreplace(heads, (following.away_mm, place, following))


def _used_beside(
    connection: sqlite3.Connection, profile: str, counts: list[int], compared: Compared, band: tuple[float, float]
) -> Iterator[Listed]:
    """Belts a little farther off than the last one that some job used: how it ended may put them first."""
    if connection.execute("SELECT 1 FROM job_part LIMIT 1").fetchone() is None:
        return
    asked = compared.asked_mm or 0.0
    for count in counts:
        for low, high in ((asked + band[0], asked + band[1]), (asked - band[1], asked - band[0])):
            yield from listed(
                connection,
                f"SELECT 0.0, {COLUMNS} {_FROM} WHERE profile = ? AND ribs = ? AND {compared.column} BETWEEN ? AND ? "
                "AND EXISTS (SELECT 1 FROM job_part WHERE job_part.code = belt.code) LIMIT ?",
                (profile, count, low, high, BESIDE),
            )


def _rib_counts(connection: sqlite3.Connection, profile: str) -> Iterator[int]:
    """Step from one rib count to the next through the index, instead of reading all of it."""
    count = 0
    while True:
        found = connection.execute("SELECT min(ribs) FROM belt WHERE profile = ? AND ribs > ?", (profile, count))
        count = found.fetchone()[0]
        if count is None:
            return
        yield count


def _stand_ins(
    connection: sqlite3.Connection, question: BeltQuestion, profile: str, compared: Compared, limit: int
) -> list[BeltRow]:
    """Belts with one rib fewer or more: marked so, and after those with the ribs asked for. Common practice, no source."""
    assert question.ribs is not None
    rows: list[BeltRow] = []
    fewer, more = (-1, "runs, carries less"), (1, "only where every pulley has the grooves")
    for difference, note in (fewer, more):
        ribs = question.ribs + difference
        if ribs > 0:
            found = _walk(connection, profile, ribs, compared, question.window_mm, limit)
            rows += belt_rows(connection, found, compared, limit, f"{ribs} ribs instead of {question.ribs}: {note}")
    return sorted(rows, key=lambda row: abs(row.difference_mm or 0.0))[:limit]


def _v_belts(connection: sqlite3.Connection, question: BeltQuestion) -> Answer[BeltRow]:
    assert question.top_width_mm is not None
    compared = _compared(question, None)
    wide = (question.top_width_mm - TOP_WIDTH_MM, question.top_width_mm + TOP_WIDTH_MM)
    condition = "top_width_mm BETWEEN :low AND :high AND (:ribs IS NULL OR ribs = :ribs)"
    values = {"low": wide[0], "high": wide[1], "ribs": question.ribs, "asked": compared.asked_mm or 0.0}

    def nearest(within: float, limit: int) -> list[BeltRow]:
        found = listed(
            connection,
            f"SELECT 0.0, {COLUMNS} {_FROM} WHERE {condition} AND (:any OR abs({compared.column} - :asked) <= :within) "
            f"ORDER BY abs({compared.column} - :asked), supplier.name, part_no LIMIT :most",
            {**values, "any": compared.asked_mm is None, "within": within, "most": limit + BESIDE},
        )
        rows = belt_rows(connection, list(found), compared, limit)
        return [_with_width(row, question.top_width_mm or 0.0) for row in rows]

    rows = nearest(question.window_mm, question.limit)
    misses = [] if rows or compared.asked_mm is None else nearest(_ANY, _NEAREST)
    notes = [*_notes(question)]
    if compared.asked_mm is not None:
        notes += _not_compared(connection, condition, values, compared)
    return Answer(rows, misses, _understood(question, compared, None), tuple(notes))


def _with_width(row: BeltRow, asked_mm: float) -> BeltRow:
    return row._replace(says_last=width_text(row, asked_mm))


def _not_compared(
    connection: sqlite3.Connection, condition: str, values: dict[str, float | None], compared: Compared
) -> list[str]:
    """Say how many belts could not be compared, because their sheets give another kind of length."""
    left_out = connection.execute(
        f"SELECT count(*) FROM belt WHERE {condition} AND {compared.column} IS NULL", values
    ).fetchone()[0]
    if not left_out:
        return []
    kind = compared.column.removesuffix("_length_mm")
    many = "One belt of that width is" if left_out == 1 else f"{left_out} belts of that width are"
    other = "outside" if kind == "effective" else "effective"
    return [
        f"{many} listed without {kind} length, and no checked table turns one kind into the other for V-belts: "
        f"to compare, measure with --measured {other}."
    ]


def _by_text(connection: sqlite3.Connection, question: BeltQuestion) -> Answer[BeltRow]:
    from queries.text_index import search

    assert question.text is not None
    hits = {hit.row_id: hit for hit in search(connection, question.text, _TEXT_HITS, ("belt",))}
    selected = listed(
        connection,
        f"SELECT 0.0, {COLUMNS} {_FROM} WHERE belt.id IN ({', '.join(map(str, hits))}) AND (:ribs IS NULL OR ribs = :ribs) "
        "AND (:profile IS NULL OR profile = :profile) AND (:width IS NULL OR abs(top_width_mm - :width) <= :off)",
        {"ribs": question.ribs, "profile": question.profile.upper() if question.profile else None,
         "width": question.top_width_mm, "off": TOP_WIDTH_MM},
    )  # fmt: skip
    found = list(selected)
    scores = {(belt.supplier, belt.part_no): hits[belt.id] for belt in found}
    judged: list[BeltRow] = []
    for is_pk in (True, False):
        compared = _compared(question, "PK" if is_pk else None)
        group = [belt for belt in found if (belt.profile == "PK") == is_pk]
        if compared.asked_mm is not None:
            group = [belt for belt in group if compared.off(belt) is not None]
        judged += belt_rows(connection, group, compared, len(group))
    rows = [row.saying_first(scores[row.supplier, row.part_no].why) for row in judged]
    near = [row for row in rows if row.difference_mm is None or abs(row.difference_mm) <= question.window_mm]
    near.sort(key=lambda row: -scores[row.supplier, row.part_no].score)
    rows.sort(key=lambda row: abs(row.difference_mm or 0.0))
    notes = [*_notes(question)]
    if len(hits) == _TEXT_HITS:
        notes.append(f"Only the {_TEXT_HITS} belts that are likeliest by these words were looked at: say more of them.")
    understood = _understood(question, _compared(question, "PK"), question.profile)
    return Answer(near[: question.limit], [] if near else rows[:_NEAREST], understood, tuple(notes))


def _understood(question: BeltQuestion, compared: Compared, profile: str | None) -> str:
    said = [f"belts like {question.text!r}"] if question.text else []
    if question.ribs is not None:
        said.append(f"{question.ribs} ribs {profile}" if profile else f"{question.ribs} ribs")
    elif profile:
        said.append(f"{profile} with any number of ribs")
    if question.top_width_mm is not None:
        said.append(f"top width {both_text(question.top_width_mm)}")
    if question.length_mm is None:
        return ", ".join(said if question.text else [*said, "the shortest first"])
    said.append(f"{both_text(question.length_mm)}, as {question.measured} length")
    if compared.asked_mm is not None and compared.asked_mm != question.length_mm:
        said.append(f"that is {both_text(compared.asked_mm)} effective")
    return ", ".join([*said, f"within {apart(question.window_mm)}"])


def _notes(question: BeltQuestion) -> tuple[str, ...]:
    if question.length_mm is None:
        return ()
    way = WAYS[question.measured]
    notes = [f"Measured as {way.name}: {way.says}; taken as good to {apart(way.doubt_mm)} ({way.source})."]
    if question.measured == "string":
        notes.append("Flat pulleys under the string make the belt longer than this: a drive sheet counts them.")
    return tuple(notes)
