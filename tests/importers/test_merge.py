"""Merging: every order gives the same shelf, twice changes nothing, and it is what a brute-force model says."""

from __future__ import annotations

import itertools
import json
import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from importers.load import Settings, load_file
from importers.merge import MERGED, STAYS, merge_file
from importers.settle import settle
from kb import shelf as shelves
from kb.conflicts import in_conflict, versions
from kb.errors import AnswerError, NewerShelfError, NoShelfError, NotAShelfError, ShelfError
from kb.revisions import Revision, live
from kb.shelf import open_to_read, open_to_write, transaction

SUPPLIERS = ("Anyone", "ANYONE", "Someone")
PARTS = ("00123", "1E5")
JOBS = ("N-1", "W-1")

Action = tuple[str, str, str, int]
actions = st.lists(
    st.one_of(
        st.tuples(st.just("part"), st.sampled_from(SUPPLIERS), st.sampled_from(PARTS), st.integers(1, 3)),
        st.tuples(st.just("job"), st.sampled_from(JOBS), st.just(""), st.integers(1, 3)),
        st.tuples(st.just("drive"), st.sampled_from(("Fan", "FAN")), st.just(""), st.integers(1, 3)),
        st.tuples(st.just("supplier"), st.sampled_from(SUPPLIERS), st.just(""), st.integers(1, 3)),
    ),
    max_size=4,
)


class Clock:
    """Times that repeat and run behind, as clocks of different machines do; ids that no two shelves share."""

    def __init__(self) -> None:
        self.times = itertools.cycle(["2026-01-02T00:00:00Z", "2026-01-01T00:00:00Z", "2026-01-02T00:00:00Z"])
        self.ids = itertools.count()

    def now(self) -> str:
        return next(self.times)

    def new_id(self) -> str:
        return f"id{next(self.ids) * 7919 % 10007:05d}"


@contextmanager
def _clock() -> Iterator[None]:
    clock = Clock()
    names = [f"importers.{module}.{name}" for module in ("ledger", "jobs", "settle") for name in ("now", "new_id")]
    with ExitStack() as stack:
        for name in names:
            stack.enter_context(patch(name, getattr(clock, name.rpartition(".")[2])))
        yield


def _act(shelf: Path, action: Action) -> None:
    kind, name, part_no, value = action
    sheet = shelf.parent / ("a.csv" if kind in ("part", "supplier") else "a.toml")
    sheet.write_text(
        {
            "part": f"Part no,Ribs,Eff. length,Description,Price\n{part_no},{value},1800,belt number {value},{value}.99\n",
            "supplier": f"Supplier,Can supply,Lead time hours\n{name},belts;hoses {value},{value}\n",
            "job": f'job = "{name}"\nwork = "belt in"\nribs = {value}\nparts = []\n'.replace("parts = []\n", "")
            + f'[[part]]\npart_no = "P{value}"\n[private]\ncustomer = "{name} {shelf.name}"\n',
            "drive": f'name = "{name}"\nunit = "mm"\nrotation = "clockwise"\nribs = {value}\nprofile = "PK"\n'
            + "".join(
                f'[[pulley]]\nname = "p{n}"\nface = "grooved"\neffective_diameter = 100\nat = [{x}, {y}]\ngrooves = 8\n'
                + ("driver = true\n" if n == 0 else "")
                for n, (x, y) in enumerate([(0, 0), (400, 0), (200, 300 + value)])
            ),
        }[kind],
        encoding="utf-8",
    )
    kinds = {"part": "belts", "supplier": "suppliers"}
    connection = open_to_write(shelf)
    try:
        load_file(connection, shelf, sheet, Settings(kinds.get(kind), name if kind == "part" else None))
    finally:
        connection.close()


def state(shelf: Path) -> dict[str, list[Any]]:
    """Everything that bays share, without this file's own numbers."""
    connection = open_to_read(shelf)
    try:
        return {name: sorted(map(_plain, connection.execute(sql))) for name, sql in _SHARED.items()} | {
            "words": _words(connection)
        }
    finally:
        connection.close()


_PART = "supplier.name AS supplier, load.id AS load_id, belt.*"
_SHARED = {
    "suppliers": "SELECT supplier.*, load.id AS load_id FROM supplier LEFT JOIN load ON load.number = load_number",
    "loads": "SELECT load.*, supplier.name AS supplier FROM load LEFT JOIN supplier ON supplier.id = supplier_id",
    "columns": "SELECT load_column.*, load.id AS load_id FROM load_column JOIN load ON load.number = load_number",
    "belts": f"SELECT {_PART} FROM belt JOIN supplier ON supplier.id = belt.supplier_id "
    "JOIN load ON load.number = belt.load_number",
    "drives": "SELECT drive.*, load.id AS load_id FROM drive JOIN load ON load.number = load_number",
    "pulleys": "SELECT drive.name AS drive, drive_pulley.* FROM drive_pulley JOIN drive ON drive.id = drive_id",
    "jobs": "SELECT job.*, load.id AS load_id FROM job JOIN load ON load.number = load_number",
    "job parts": "SELECT job.id AS job, job_part.* FROM job_part JOIN job ON job.number = job_number",
    "revisions": "SELECT job_revision.*, load.id AS load_id FROM job_revision "
    "LEFT JOIN load ON load.number = load_number",
    "conflicts": "SELECT job.id AS job, job_conflict.revision FROM job_conflict JOIN job ON job.number = job_number",
}
_OWN = {"number", "load_number", "supplier_id", "drive_id", "job_number", "merged_from"}


def _plain(row: sqlite3.Row) -> str:
    values = dict(row)
    if "load_id" in values or "supplier" in values:
        values.pop("id", None) if not str(values.get("id", "")).startswith(("id", "N-", "W-")) else None
    return json.dumps({name: value for name, value in values.items() if name not in _OWN}, sort_keys=True)


def _words(connection: sqlite3.Connection) -> list[Any]:
    """The search, as people meet it: which rows each word finds, and the distinct words."""
    found: list[Any] = [
        tuple(row) for row in connection.execute("SELECT word, uses FROM search_word WHERE uses > 0 ORDER BY word")
    ]
    for word in ("1", "2", "3", "belt"):
        found += [
            (word, *row)
            for row in connection.execute(
                "SELECT supplier.name, belt.part_no FROM belt_fts JOIN belt ON belt.id = belt_fts.rowid "
                "JOIN supplier ON supplier.id = supplier_id WHERE belt_fts MATCH ? ORDER BY 1, 2",
                (f'"{word}"',),
            )
        ]
    return found


def _copy(source: Path, target: Path) -> Path:
    shelves.copy_to(source, target)
    return target


def _merged(folder: Path, name: str, first: Path, *others: Path) -> Path:
    target = _copy(first, folder / name)
    for other in others:
        merge_file(target, other)
    return target


@settings(max_examples=25, deadline=None)
@given(base=actions, apart=st.tuples(actions, actions, actions))
def test_any_order_any_number_of_times(base, apart) -> None:
    with TemporaryDirectory() as name, _clock():
        folder = Path(name)
        common = folder / "common.db"
        open_to_write(common).close()
        for action in base:
            _act(common, action)
        bays = [_copy(common, folder / f"{bay}.db") for bay in ("north", "south", "wash")]
        for bay, done in zip(bays, apart, strict=True):
            for action in done:
                _act(bay, action)
        a, b, c = bays
        one = _merged(folder, "ab_c.db", a, b, c)
        whole = state(one)
        assert state(_merged(folder, "c_b_a.db", c, b, a)) == whole  # in either order
        bc = _merged(folder, "bc.db", b, c)
        assert state(_merged(folder, "a_bc.db", a, bc)) == whole  # however grouped
        again = [merge_file(one, each) for each in (*bays, bc)]
        assert not any(report.changed for report in again)  # and twice changes nothing
        assert state(one) == whole
        assert shelves.check(one) == []
        _as_modelled(one, bays)


def _as_modelled(merged: Path, bays: list[Path]) -> None:
    parts: dict[Any, Any] = {}
    revisions: dict[str, dict[str, Revision]] = {}
    for bay in bays:
        connection = open_to_read(bay)
        for row in connection.execute(
            "SELECT lower(name) AS name, part_no, loaded_at, load.id, ribs, description FROM belt "
            "JOIN supplier ON supplier.id = belt.supplier_id JOIN load ON load.number = belt.load_number"
        ):
            key, value = (row["name"], row["part_no"]), tuple(row)[2:]
            parts[key] = max(parts.get(key, value), value)
        for row in connection.execute("SELECT * FROM job_revision"):
            one = Revision(
                row["id"], row["made_at"], row["content"], row["based_on"], tuple(json.loads(row["settles"]))
            )
            revisions.setdefault(row["job_id"], {})[one.id] = one
        connection.close()
    connection = open_to_read(merged)
    there = {
        (row["name"], row["part_no"]): (row["ribs"], row["description"])
        for row in connection.execute(
            "SELECT lower(name) AS name, part_no, ribs, description FROM belt JOIN supplier ON supplier.id = supplier_id"
        )
    }
    assert there == {key: value[2:] for key, value in parts.items()}
    jobs = {row["id"]: row["ribs"] for row in connection.execute("SELECT id, ribs FROM job")}
    held = {job: live(each.values()) for job, each in revisions.items()}
    assert jobs == {job: json.loads(each[-1].content)["ribs"] for job, each in held.items()}
    assert in_conflict(connection) == sorted(job for job, each in held.items() if len(each) > 1)
    connection.close()


def _job(folder: Path, shelf: Path, run: Any, **said: object) -> None:
    sheet = folder / f"{shelf.stem}.toml"
    lines = [f"{name} = {json.dumps(value)}" for name, value in said.items()]
    sheet.write_text("\n".join(['job = "N-1"', *lines, "[private]", 'customer = "Kept here"']), encoding="utf-8")
    assert run("load", str(sheet), shelf=shelf).exit_code == 0


@pytest.fixture
def apart(tmp_path, run) -> tuple[Path, Path]:
    """Two bays that changed one job from the same state."""
    north, wash = tmp_path / "north.db", tmp_path / "wash.db"
    _job(tmp_path, north, run, work="belt in")
    assert run("merge", str(north), shelf=wash).exit_code == 0
    _job(tmp_path, north, run, work="belt in", ribs=8, outcome="worked")
    _job(tmp_path, wash, run, work="belt in", ribs=6)
    return north, wash


def test_a_conflict_is_kept_shown_and_settled(apart, run, tmp_path) -> None:
    north, wash = apart
    assert "N-1 was changed in two bays" in run("merge", str(wash), shelf=north).stdout
    assert "N-1 was changed in two bays" in run("check", shelf=north).stdout
    shown = run("settle", "N-1", shelf=north).stdout
    assert "ribs" in shown
    assert "outcome" in shown
    assert "merged from wash.db" in shown
    both = json.loads(run("settle", "N-1", "--json", shelf=north).stdout)
    by_ribs = {one["content"]["ribs"]: one["revision"] for one in both}
    (row,) = json.loads(run("jobs", "N-1", "--json", shelf=north).stdout)
    assert sorted(row["conflict"]) == sorted(by_ribs.values())
    done = run("settle", "N-1", "--keep", by_ribs[6], "--take", f"outcome={by_ribs[8]}", shelf=north)
    assert done.exit_code == 0, done.output
    for shelf, other in ((wash, north), (north, wash)):
        report = json.loads(run("merge", str(other), "--json", shelf=shelf).stdout)
        assert report["conflicts"] == []
        connection = open_to_read(shelf)
        assert tuple(connection.execute("SELECT ribs, outcome FROM job").fetchone()) == (6, "worked")
        assert connection.execute("SELECT count(*) FROM job_revision").fetchone()[0] == 4
        connection.close()
    assert run("settle", shelf=north).stdout.strip() == "No job waits to be settled."
    assert "nothing to settle" in run("settle", "N-1", shelf=wash).stdout


def test_what_a_bay_records_on_top_of_a_conflict_leaves_it_to_be_settled(apart, run, tmp_path) -> None:
    north, wash = apart
    run("merge", str(wash), shelf=north)
    _job(tmp_path, north, run, work="belt in", ribs=7)
    connection = open_to_read(north)
    found = versions(connection, "N-1")
    shown = connection.execute("SELECT ribs FROM job").fetchone()[0]
    connection.close()
    # It was made from the version that was shown; the other one still contradicts it.
    assert 7 in {json.loads(one.content)["ribs"] for one in found}
    assert len(found) == 2
    assert [json.loads(one.content)["ribs"] for one in found if one.shown] == [shown]


@pytest.mark.parametrize(
    ("keep", "taken", "said"),
    [("nothing", {}, "names none"), ("T", {}, "more than one"), (None, {"bay": "T"}, "do not differ in 'bay'")],
)
def test_settling_what_is_none_is_told(apart, run, keep, taken, said) -> None:
    north, wash = apart
    run("merge", str(wash), shelf=north)
    connection = open_to_write(north)
    with pytest.raises(AnswerError, match=said), transaction(connection, north):
        settle(connection, "N-1", keep or versions(connection, "N-1")[0].revision, taken)
    with pytest.raises(AnswerError, match="there is no job"), transaction(connection, north):
        settle(connection, "N-9", "x")
    assert connection.execute("SELECT count(*) FROM job_revision").fetchone()[0] == 3
    connection.close()


def test_private_rows_stay_in_their_bay(apart, run, tmp_path) -> None:
    north, wash = apart
    sheet = tmp_path / "prices.csv"
    sheet.write_text("Part no,Ribs,Eff. length,Price\nX1,8,1800,12.34\nX2,many,1800,56.78\n", encoding="utf-8")
    run("load", str(sheet), "--supplier", "Anyone", shelf=north)
    new = tmp_path / "new.db"
    merge_file(new, north)
    assert b"12.34" not in new.read_bytes()
    assert b"56.78" not in new.read_bytes()
    assert b"Kept here" not in new.read_bytes()
    merge_file(north, wash)
    connection = open_to_read(north)
    assert connection.execute("SELECT customer FROM private_job").fetchone()[0] == "Kept here"
    assert connection.execute("SELECT price FROM private_price").fetchone()[0] == "12.34"
    connection.close()
    # The same sheet, loaded where its rows came by merging, brings the price that merging did not.
    run("load", str(sheet), "--supplier", "Anyone", shelf=new)
    connection = open_to_read(new)
    assert connection.execute("SELECT price FROM private_price").fetchone()[0] == "12.34"
    connection.close()


def test_every_table_is_merged_or_stays_for_a_reason(tmp_path) -> None:
    connection = open_to_write(tmp_path / "a.db")
    tables = {
        row["name"]
        for row in connection.execute("PRAGMA table_list")
        if row["type"] == "table" and not row["name"].startswith(("sqlite_", "_sqlite_"))
    }
    connection.close()
    assert tables == {*MERGED, *STAYS}
    assert not set(MERGED) & set(STAYS)


def test_the_demo_merges_into_a_new_shelf(demo_shelf, tmp_path, run) -> None:
    before = demo_shelf.read_bytes()
    new = tmp_path / "new.db"
    report = merge_file(new, demo_shelf)
    assert demo_shelf.read_bytes() == before
    assert shelves.check(new) == []
    assert report.parts_added > 1000
    for asked in (("find", "8pk 1854", "--json"), ("jobs", "--like", "N-001", "--json"), ("find", "hosee", "--json")):
        assert run(*asked, shelf=new).stdout == run(*asked, shelf=demo_shelf).stdout
    assert not merge_file(new, demo_shelf).changed


def test_a_dry_run_changes_nothing(apart) -> None:
    north, wash = apart
    before = state(north)
    assert merge_file(north, wash, dry_run=True).conflicts == ["N-1"]
    assert state(north) == before


def _newer(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version = 99")
    connection.close()


def _damaged(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 20000] = b"\xff" * 20000
    path.write_bytes(data)


def _renamed(path: Path) -> None:
    """One revision that says something else than it did."""
    connection = sqlite3.connect(path)
    connection.execute("UPDATE job_revision SET content = json_set(content, '$.ribs', 99)")
    connection.commit()
    connection.close()


@pytest.mark.parametrize(
    ("spoil", "error"),
    [
        (_newer, NewerShelfError),
        (_damaged, NotAShelfError),
        (_renamed, ShelfError),
        (lambda path: path.write_text("a letter, longer than a header " * 9, encoding="utf-8"), NotAShelfError),
        (Path.unlink, NoShelfError),
    ],
)
def test_what_cannot_be_merged_is_refused_and_nothing_is_changed(tmp_path, demo_shelf, spoil, error) -> None:
    here, other = _copy(demo_shelf, tmp_path / "here.db"), _copy(demo_shelf, tmp_path / "other.db")
    spoil(other)
    before = here.read_bytes()
    with pytest.raises(error):
        merge_file(here, other)
    assert here.read_bytes() == before
    if spoil is not _renamed:
        with pytest.raises(error):
            merge_file(tmp_path / "new.db", other)
        assert not (tmp_path / "new.db").exists()


def test_a_shelf_is_not_merged_into_itself(demo_shelf) -> None:
    with pytest.raises(ShelfError, match="the shelf itself"):
        merge_file(demo_shelf, demo_shelf)
