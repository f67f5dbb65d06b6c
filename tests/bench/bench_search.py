"""Measure the forgiving search against scans with rapidfuzz and against FTS5's trigrams.

Run as ``python tests/bench/bench_search.py --rows 100000``. The catalogue and the mistakes are invented, from a seed.
Each way of searching runs in a process of its own with its own database or strings; a query counts as found when the
row it was made from is among the first ten (for scans of part numbers: the part number is). Times are the processor's:
nothing here waits for anything else, and other work on the machine counts for little.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import resource
import shutil
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from lines import Line, faster, hand_on

from importers import index
from kb.new_shelf import schema_sql, statements
from kb.searched import SEARCHED, TEXTS, key_of
from kb.spelling import normalise_code, words_of
from queries.text_index import search

PARTS = SEARCHED[:-1]
PRODUCTS = (
    "multi-rib belt", "v-belt raw edge", "fan pulley grooved", "idler flat steel", "automatic tensioner", "coolant hose",
    "moulded hose two bends", "heater hose", "suction hose wire", "swivel fitting", "adapter straight", "elbow forged",
    "worm drive clamp", "spring clamp", "bulkhead union", "compressor pulley", "water pump pulley", "crank damper pulley",
)  # fmt: skip
MATERIALS = ("epdm", "steel", "silicone", "nylon", "zinc plated", "stainless", "reinforced", "heavy duty", "")
SYLLABLES = (
    "al", "der", "fork", "ka", "mor", "ben", "tu", "wil", "sa", "ron", "dek", "pa", "lin", "gro", "ver", "mi", "stan",
    "quo", "ras", "hel", "nor", "bri",
)  # fmt: skip
FORMS = ("##-##-#", "##/####", "#####", "AA-##-##", "AA ####-A", "A#PK####", "AAA-###-##-A", "########", "AA##.###",
         "A-####/##", "######AA")  # fmt: skip
Row = tuple[str, str, str]
Query = tuple[str, int]


def catalogue(rows: int, seed: int = 7) -> list[Row]:
    """Return rows of kind, part number, description; about 98 % of the part numbers are distinct."""
    chance = random.Random(seed)
    names = [
        "".join(chance.choice(SYLLABLES) for _ in range(chance.randint(2, 4))) for _ in range(max(200, rows // 40))
    ]
    weights = [1.0 / (place + 10) for place in range(len(names))]
    total, found = 0.0, []
    cumulative = [total := total + weight for weight in weights]
    made: list[str] = []
    taken: set[str] = set()
    for _ in range(rows):
        if made and chance.random() < 0.02:
            part_no = chance.choice(made)
        else:
            # A fuller catalogue has longer part numbers.
            while (
                part_no := _part_no(chance, chance.choice(FORMS) + "#" * (rows > 20_000) + "#" * (rows > 200_000))
            ) in taken:
                pass
            taken.add(part_no)
            made.append(part_no)
        size = (
            f"{chance.randint(12, 2600)} mm"
            if chance.random() < 0.7
            else f"{chance.randint(1, 80)} 1/{chance.choice('248')} in"
        )
        used = chance.choices(names, cum_weights=cumulative, k=2)
        said = f"{chance.choice(PRODUCTS)} {chance.choice(MATERIALS)} {size} {' '.join(used)}"
        said = said.upper() if chance.random() < 0.2 else said.capitalize()
        found.append((chance.choice(PARTS), part_no, said))
    return found


def _part_no(chance: random.Random, form: str) -> str:
    return "".join(
        chance.choice("0123456789") if each == "#" else chance.choice("ABCDEFGHJKLMNPRSTVWX") if each == "A" else each
        for each in form
    )


def slip(chance: random.Random, text: str, alphabet: str) -> str:
    """Swap two neighbours, or leave out, double or replace one character."""
    at = chance.randrange(len(text))
    what = chance.choice(("swapped", "missing", "doubled", "wrong"))
    if what == "swapped" and at + 1 < len(text):
        return text[:at] + text[at + 1] + text[at] + text[at + 2 :]
    if what == "missing":
        return text[:at] + text[at + 1 :]
    if what == "doubled":
        return text[:at] + text[at] + text[at:]
    return text[:at] + chance.choice(alphabet) + text[at + 1 :]


def mistyped_code(chance: random.Random, part_no: str) -> str:
    """Write a part number as people do: other case and separators, look-alikes, and one slip, at times two."""
    text = part_no
    for _ in range(1 if chance.random() < 0.8 else 2):
        text = slip(chance, text, "0123456789ABCDEFGHKLMNPRST")
    if chance.random() < 0.5:
        text = text.lower()
    if chance.random() < 0.5:
        text = text.replace("-", chance.choice(("", " "))).replace("/", "")
    if chance.random() < 0.3:
        text = text.replace("0", "O").replace("1", chance.choice("Il"))
    return text


def code_queries(rows: Sequence[Row], count: int, seed: int = 11) -> list[Query]:
    """Return mistyped part numbers, each with the place of its row."""
    chance = random.Random(seed)
    places = [chance.randrange(len(rows)) for _ in range(count)]
    return [(mistyped_code(chance, rows[place][1]), place) for place in places]


def mixed_queries(rows: Sequence[Row], count: int, seed: int = 13) -> list[Query]:
    """Return a mistyped part number and two words, or four words, in any order, two of the words with a slip."""
    chance = random.Random(seed)
    queries = []
    for number in range(count):
        place = chance.randrange(len(rows))
        _, part_no, said = rows[place]
        words = words_of(said)
        product, names = [word for word in words[:2] if len(word) > 3], words[-2:]
        asked = [slip(chance, word, "abcdefghiklmnoprst") for word in names] + product[:1]
        sizes = [word for word in words if word.isdigit()]
        asked = [mistyped_code(chance, part_no), *asked[:2]] if number % 2 else [*asked, *sizes[:1]]
        chance.shuffle(asked)
        queries.append((" ".join(asked), place))
    return queries


def make_shelf(path: Path, rows: Sequence[Row]) -> float:
    """Make a shelf with only what the search needs; return the seconds that indexing took."""
    connection = sqlite3.connect(path, isolation_level=None)
    for kind, texts in TEXTS.items():
        columns = ", ".join(f"{name} TEXT" for name in ("code", *texts))
        connection.execute(f"CREATE TABLE {kind} ({key_of(kind)} INTEGER PRIMARY KEY, {columns}, id_ TEXT) STRICT")
        connection.execute(f"CREATE INDEX {kind}_code ON {kind} (code)")
    connection.execute("ALTER TABLE job RENAME COLUMN id_ TO id")
    for statement in statements(schema_sql()):
        if "fts5" in statement or "TABLE search_" in statement:
            connection.execute(statement)
    connection.execute("BEGIN IMMEDIATE")
    for kind in PARTS:
        connection.executemany(
            f"INSERT INTO {kind} (id, part_no, code, description) VALUES (?, ?, ?, ?)",
            (
                (place, part_no, normalise_code(part_no), said)
                for place, (of, part_no, said) in enumerate(rows)
                if of == kind
            ),
        )
    start = time.perf_counter()
    for kind in PARTS:
        index.add(connection, kind, 0)
    connection.execute("COMMIT")
    return time.perf_counter() - start


def timed(ask: Callable[[str], Sequence[object]], queries: Sequence[Query], wanted: Callable[[int], object]) -> Figures:
    """Ask every query twice after a warm-up; return p50 and p95 in ms of the processor, and the share found."""
    for text, _ in queries[:20]:
        ask(text)
    spent, found = [], 0
    for text, place in queries:
        start = time.thread_time()
        answer = ask(text)
        spent.append(1e3 * (time.thread_time() - start))
        found += wanted(place) in answer
    spent.sort()
    return statistics.median(spent), spent[int(0.95 * len(spent))], found / len(queries)


Figures = tuple[float, float, float]


def ours(folder: str, rows: int, count: int, mixed: bool) -> Figures:
    """Search the shelf as the application does."""
    parts = catalogue(rows)
    connection = sqlite3.connect(f"file:{folder}/shelf.db?mode=ro", uri=True)
    queries = (mixed_queries if mixed else code_queries)(parts, count)

    def ask(text: str) -> list[object]:
        return [(hit.kind, hit.row_id) if mixed else _code(parts, hit) for hit in search(connection, text, 10)]

    return timed(ask, queries, lambda place: (parts[place][0], place) if mixed else normalise_code(parts[place][1]))


def _code(parts: Sequence[Row], hit: object) -> str:
    return normalise_code(parts[hit.row_id][1])  # type: ignore[attr-defined] # a Hit


def scan(folder: str, rows: int, count: int, mixed: bool, scorer: str) -> Figures:
    """Compare the question with every string, already in memory, by one of rapidfuzz's scorers."""
    from rapidfuzz import fuzz, process

    parts = catalogue(rows)
    score = getattr(fuzz, scorer)
    if mixed:
        texts = [" ".join(words_of(f"{part_no} {said}")) for _, part_no, said in parts]
        return timed(
            lambda text: [
                found[2] for found in process.extract(" ".join(words_of(text)), texts, scorer=score, limit=10)
            ],
            mixed_queries(parts, count),
            lambda place: place,
        )
    # Copied in order, so that they lie side by side in memory, and cut off early: several times faster than without.
    codes = [(code + " ")[:-1] for code in sorted({normalise_code(part_no) for _, part_no, _ in parts})]
    return timed(
        lambda text: [
            found[0] for found in process.extract(normalise_code(text), codes, scorer=score, limit=10, score_cutoff=60)
        ],
        code_queries(parts, count),
        lambda place: normalise_code(parts[place][1]),
    )


def trigram(folder: str, rows: int, count: int, mixed: bool) -> Figures:
    """Ask FTS5's trigram index for any of the question's trigrams, and rank the best thousand by rapidfuzz."""
    from rapidfuzz import fuzz, process

    parts = catalogue(rows)
    connection = sqlite3.connect(f"{folder}/trigram.db")
    connection.execute("CREATE VIRTUAL TABLE text USING fts5 (said, tokenize='trigram')")
    if mixed:
        texts: list[str] = [" ".join(words_of(f"{part_no} {said}")) for _, part_no, said in parts]
    else:
        texts = sorted({normalise_code(part_no) for _, part_no, _ in parts})
    connection.executemany("INSERT INTO text (rowid, said) VALUES (?, ?)", enumerate(texts))
    connection.commit()
    clean: Callable[[str], str] = (lambda text: " ".join(words_of(text))) if mixed else normalise_code
    score = fuzz.token_set_ratio if mixed else fuzz.ratio

    def ask(text: str) -> list[object]:
        asked = clean(text)
        any_of = " OR ".join(f'"{asked[at : at + 3]}"' for at in range(len(asked) - 2))
        near = dict(
            connection.execute("SELECT rowid, said FROM text WHERE text MATCH ? ORDER BY rank LIMIT 1000", (any_of,))
        )
        best = process.extract(asked, near, scorer=score, limit=10)
        return [found[2] if mixed else found[0] for found in best]

    if mixed:
        return timed(ask, mixed_queries(parts, count), lambda place: place)
    return timed(ask, code_queries(parts, count), lambda place: normalise_code(parts[place][1]))


def add_more(path: Path, rows: Sequence[Row]) -> float:
    """Load rows beside those that are there; return the seconds that indexing took."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("BEGIN IMMEDIATE")
    first = connection.execute("SELECT coalesce(max(id), 0) + 1 FROM belt").fetchone()[0]
    connection.executemany(
        "INSERT INTO belt (part_no, code, description) VALUES (?, ?, ?)",
        ((f"{part_no}-N", normalise_code(f"{part_no}-N"), said) for _, part_no, said in rows),
    )
    start = time.perf_counter()
    index.add(connection, "belt", first)
    connection.execute("COMMIT")
    return time.perf_counter() - start


def build(folder: str, rows: int) -> tuple[float, float, float, float, float]:
    """Make the shelf; return the seconds of indexing it and 1,000 rows more, the peak in MiB above the strings, bytes of
    index per part number, and the share of distinct part numbers."""
    parts = catalogue(rows)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    seconds = make_shelf(Path(folder) / "shelf.db", parts)
    peak = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    connection = sqlite3.connect(Path(folder) / "shelf.db")
    size = {
        name: connection.execute("SELECT sum(pgsize) FROM dbstat WHERE name = ?", (name,)).fetchone()[0]
        for name in ("search_code", "search_form")
    }
    codes = connection.execute("SELECT count(*) FROM search_code").fetchone()[0]
    connection.close()
    shutil.copy(Path(folder) / "shelf.db", Path(folder) / "more.db")
    more = add_more(Path(folder) / "more.db", parts[:1000])
    (Path(folder) / "more.db").unlink()
    return seconds, more, peak, sum(size.values()) / codes, codes / rows


def alone(work: Callable[..., object], *arguments: object) -> object:
    """Run a function in a fresh process."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(work, arguments)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--queries", type=int, default=2000)
    parser.add_argument("--slow-queries", type=int, default=200)
    parser.add_argument("--only-ours", action="store_true")
    parser.add_argument("--lines", action="store_true", help="Print lines for table.py as well.")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        seconds, more, peak, size, distinct = alone(build, folder, options.rows)  # type: ignore[misc]
        print(f"{options.rows:,} rows, {distinct:.1%} distinct part numbers: indexed in {seconds:.1f} s")
        print(
            f"{options.rows / seconds:,.0f} rows/s, {peak:.0f} MiB more at the peak, {size:.0f} bytes of index per code"
        )
        print(f"1,000 rows more: {more:.2f} s")
        print(f"{'':40}{'p50 ms':>10}{'p95 ms':>10}{'found':>8}{'times ours':>12}")
        for mixed in (False, True):
            title = "part number and words" if mixed else "part numbers"
            figures = alone(ours, folder, options.rows, options.queries, mixed)
            base = _line(f"{title}: ours", figures, None)
            found: dict[str, Figures] = {"ours": figures}  # type: ignore[dict-item] # through another process
            if options.only_ours:
                continue
            for scorer in ("token_set_ratio", "WRatio") if mixed else ("ratio", "WRatio"):
                figures = alone(scan, folder, options.rows, options.slow_queries, mixed, scorer)
                _line(f"{title}: scan, {scorer}", figures, base)
                found[f"rapidfuzz {scorer}"] = figures  # type: ignore[assignment]
            figures = alone(trigram, folder, options.rows, options.slow_queries, mixed)
            _line(f"{title}: FTS5 trigram", figures, base)
            found["FTS5 trigram"] = figures  # type: ignore[assignment]
            if options.lines:
                hand_on(_lines(title, options.rows, found, peak, size))
            (Path(folder) / "trigram.db").unlink()


GOALS = {
    ("part numbers", "rapidfuzz ratio"): 40.0,
    ("part numbers", "rapidfuzz WRatio"): 300.0,
    ("part number and words", "rapidfuzz token_set_ratio"): 200.0,
}


def _lines(title: str, rows: int, found: dict[str, Figures], peak: float, size: float) -> list[Line]:
    """Return what the table shows: ours beside each peer."""
    p50, p95, share = found["ours"]
    note = f"95th percentile {p95:.1f} ms; found {share:.3f}; {size:.0f} bytes of index per number"
    return [
        replace(
            faster(title, rows, p50, "ms", peer, figures[0], GOALS.get((title, peer)) if rows >= 1_000_000 else None),
            peak_mib=peak,
            note=f"{note}; the peer found {figures[2]:.3f}",
        )
        for peer, figures in found.items()
        if peer != "ours"
    ]


def _line(name: str, figures: object, base: float | None) -> float:
    p50, p95, found = figures  # type: ignore[misc] # Figures, through another process
    print(f"{name:40}{p50:10.2f}{p95:10.2f}{found:8.3f}" + (f"{p50 / base:12.0f}" if base else ""), flush=True)
    return float(p50)


if __name__ == "__main__":
    main()
