"""The pages, asked in this process: they answer, they only read, and what a sheet says never becomes markup."""

from __future__ import annotations

import asyncio
import csv
import hashlib
import os
import re
import sqlite3
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from queries.explorer.server import build_datasette

PAGES = [
    "/", "/find?q=8+rib+73+1/8+in", "/find?q=", "/belts", "/belts?length=73+1/8+in&ribs=8", "/pulleys?diameter=3+in",
    "/hoses?inside=1+1/2+in&bends=90", "/clamps?around=2+1/4+in", "/fittings?outside=22.1+mm&pitch=14+tpi&seat=37",
    "/fittings?text=1/2-14", "/adapters", "/adapters?first=male+7/8-14+37&second=female+1/2+NPT",
    "/hoses?legs=100+mm,120+mm,120+mm&bends=90,90&twists=60&inside=38+mm", "/fittings?outside=20.75+mm&pitch=14+tpi",
    "/jobs", "/jobs?like=N-001", "/jobs/N-001", "/jobs/W-016",
    "/jobs?drive=Water+tender+4%2C+fan+plane", "/parts/belt/Ashwerrin%20Drive%20Parts/00123",
    "/parts/belt/Kestwald%20Riemen%20und%20Schlauch/31%2F2903", "/shelf", "/shelf/belt",
    "/closing", "/closing/N-022", "/summary/N-022", "/morning", "/morning?work=new+radiator&machine=Plow+truck+7&ribs=8",
    "/morning?like=N-001",
]  # fmt: skip


def ask(shelf: Path, *paths: str, method: str = "GET", host: str = "localhost", **options: Any) -> list[Any]:
    async def asked() -> list[Any]:
        datasette = build_datasette(shelf, **options)
        await datasette.invoke_startup()
        headers = {"host": host}
        return [await datasette.client.request(method, path, headers=headers) for path in paths]

    return asyncio.run(asked())


def test_every_page_answers_with_our_headers(demo_shelf) -> None:
    for path, response in zip(PAGES, ask(demo_shelf, *PAGES), strict=True):
        assert response.status_code == 200, path
        assert response.headers["x-content-type-options"] == "nosniff"
        assert response.headers["x-frame-options"] == "DENY"
        assert response.headers["referrer-policy"] == "no-referrer"
        assert str(demo_shelf.parent) not in response.text, path
        if not path.startswith("/shelf"):
            assert "unsafe" not in response.headers["content-security-policy"]
            assert len(response.content) < 60_000
            assert len(re.findall(r"<script", response.text)) <= 1  # our own file, held by another test
            assert not re.search(r"(?:href|src|action)=[\"']?(?:https?:)?//", response.text), path


def test_every_link_leads_somewhere(demo_shelf) -> None:
    pages = [path for path in PAGES if not path.startswith("/shelf")]
    links = {
        link.replace("&amp;", "&")
        for response in ask(demo_shelf, *pages)
        for link in re.findall(r'href="(/[^"]*)"', response.text)
    }
    assert len(links) > 30
    for link, response in zip(sorted(links), ask(demo_shelf, *sorted(links)), strict=True):
        assert response.status_code < 400, link


def test_it_only_reads(demo_shelf) -> None:
    before = hashlib.sha256(demo_shelf.read_bytes()).hexdigest()
    for method in ("POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"):
        for response in ask(demo_shelf, "/", "/shelf/belt", "/belts", method=method):
            assert response.status_code == 405
    assert hashlib.sha256(demo_shelf.read_bytes()).hexdigest() == before


def test_a_foreign_host_is_refused(demo_shelf) -> None:
    assert ask(demo_shelf, "/", host="elsewhere.example")[0].status_code == 421
    assert ask(demo_shelf, "/", host="shop.example:80", host_names=("shop.example",))[0].status_code == 200


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/nothing", 404), ("/parts/belt/Nobody/1", 404), ("/parts/engine/x/1", 404), ("/jobs/N-999", 404),
        ("/closing/N-999", 404), ("/summary/N-999", 404), ("/summary/N-022/more", 404),
        ("/morning?work=x&ribs=abc", 400), ("/morning?like=N-999", 400), ("/morning?work=x&belt-length=-3", 400),
        ("/belts?length=abc", 400), ("/belts?length=-1", 400), ("/shelf/belt?_sort=nothing", 400), ("/-/databases", 404),
        ("/shelf.db", 403), ("/shelf?sql=select+1", 403), ("/shelf/private_price", 403), ("/find?q=" + "a" * 7000, 414),
        ("/jobs/N-001/more", 404), ("/parts/belt/Ashwerrin%20Drive%20Parts/00123/more", 404), ("/parts/belt", 404),
        ("/parts/belt/Ashwerrin%20Drive%20Parts/nothing", 404), ("/jobs/%FF", 404),
        ("/belts?length=1800&measured=nonsense", 400), ("/belts?measured=nonsense", 400),
        ("/fittings?outside=22.1+mm&taper=maybe", 400), ("/fittings?outside=22.1+mm&count=7", 400),
        ("/fittings?outside=22&inside=20", 400), ("/fittings?taper=straight&seat=37&over=1+in", 400),
        ("/hoses?bends=90,45&legs=4+in", 400), ("/hoses?bends=90&bend-within=80", 400), ("/hoses?bends=200", 400),
        ("/adapters?first=male+7/8-14", 400), ("/adapters?first=gizmo&second=male+7/8-14", 400),
        ("/jobs?like=..%2F..%2Fetc%2Fpasswd", 400), ("/jobs?like=%2Ftmp%2Fany.toml", 400),
    ],
)  # fmt: skip
def test_what_cannot_be_answered_is_told(demo_shelf, path, status) -> None:
    (response,) = ask(demo_shelf, path)
    assert response.status_code == status
    assert "Traceback" not in response.text
    assert str(demo_shelf.parent) not in response.text


def test_a_choice_alone_asks_nothing(demo_shelf) -> None:
    # A browser sends the select of an empty form too.
    (response,) = ask(demo_shelf, "/belts?length=&ribs=&measured=outside")
    assert response.status_code == 200
    assert "Understood as" not in response.text
    assert 'role="alert"' not in response.text


def test_shared_shelves_close_the_tables(demo_shelf) -> None:
    own, table, code = ask(demo_shelf, "/belts?ribs=8", "/shelf/belt", "/shelf/belt.json", share=True)
    assert (own.status_code, table.status_code, code.status_code) == (200, 404, 404)


HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"


def test_hostile_text_stays_text(tmp_path, run) -> None:
    shelf, sheet, jobs = tmp_path / "shelf.db", tmp_path / "belts.csv", tmp_path / "jobs.csv"
    with sheet.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out).writerows([["Part no", "Description", "Ribs", "Eff. length"], [HOSTILE, HOSTILE, "8", "1800"]])
    with jobs.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out).writerows(
            [
                ["Job", "Work", "Machine", "Trouble", "Remedy", "Notes"],
                ["J1", HOSTILE, HOSTILE, HOSTILE, HOSTILE, HOSTILE],
            ]
        )
    run("load", str(sheet), "--supplier", HOSTILE, shelf=shelf)
    run("load", str(jobs), shelf=shelf)
    (belts,) = ask(shelf, "/belts?length=1800&ribs=8")
    link = re.findall(r'href="(/parts/[^"]*)"', belts.text)[0]
    for response in ask(shelf, "/belts?length=1800&ribs=8", link, "/jobs", "/jobs/J1", "/find?q=%3Cscript%3Ealert(1)"):
        assert response.status_code == 200
        assert "<script>alert" not in response.text
        assert response.text.count("<script") == 1  # our own file
        assert "<img" not in response.text


def _shelf_with(folder: Path, run: Any, part: str, name: str) -> Path:
    shelf, sheet = folder / name, folder / f"{part}.csv"
    sheet.write_text(f"Part no,Ribs,Eff. length\n{part},8,1800\n", encoding="utf-8")
    run("load", str(sheet), "--supplier", "Anyone", shelf=shelf)
    return shelf


def test_what_another_process_adds_is_seen_at_the_next_request(tmp_path, run) -> None:
    shelf = _shelf_with(tmp_path, run, "OLD-1", "shelf.db")

    async def asked() -> tuple[str, str]:
        datasette = build_datasette(shelf)
        await datasette.invoke_startup()
        first = (await datasette.client.get("/belts?ribs=8")).text
        _shelf_with(tmp_path, run, "MORE-1", "shelf.db")
        return first, (await datasette.client.get("/belts?ribs=8")).text

    first, second = asyncio.run(asked())
    assert "OLD-1" in first
    assert "MORE-1" not in first
    assert "MORE-1" in second


def test_a_replaced_shelf_is_seen_at_the_next_request(tmp_path, run) -> None:
    shelves = [_shelf_with(tmp_path, run, part, f"{part}.db") for part in ("OLD-1", "NEW-1")]
    for shelf in shelves:
        # Copies that are handed round are in DELETE mode: a write-ahead log of the old file must not meet the new one.
        connection = sqlite3.connect(shelf)
        assert connection.execute("PRAGMA journal_mode = DELETE").fetchone()[0] == "delete"
        connection.close()

    async def asked() -> tuple[str, str]:
        datasette = build_datasette(shelves[0])
        await datasette.invoke_startup()
        first = (await datasette.client.get("/belts?ribs=8")).text
        os.replace(shelves[1], shelves[0])
        return first, (await datasette.client.get("/belts?ribs=8")).text

    first, second = asyncio.run(asked())
    assert "OLD-1" in first
    assert "NEW-1" in second
    assert "OLD-1" not in second


@pytest.mark.parametrize(
    "sql", ["select * from pragma_database_list", "select file from pragma_database_list", "pragma database_list"]
)
def test_typed_sql_never_shows_where_the_file_is(demo_shelf, sql) -> None:
    (response,) = ask(demo_shelf, f"/shelf.json?sql={quote(sql)}", allow_sql=True)
    assert demo_shelf.parent.name not in response.text
    assert demo_shelf.name not in response.text.replace("/shelf.db", "") or response.status_code >= 400


def test_typed_sql_reads_parts_and_no_private_table(demo_shelf) -> None:
    part, price = ask(
        demo_shelf,
        f"/shelf.json?sql={quote('select part_no from belt limit 1')}",
        f"/shelf.json?sql={quote('select * from private_price')}",
        allow_sql=True,
    )
    assert part.status_code == 200
    assert price.status_code == 400
    assert "not authorized" in price.text or "prohibited" in price.text


def test_look_alike_threads_are_drawn_and_their_question_stands_above_them(demo_shelf) -> None:
    (response,) = ask(demo_shelf, "/fittings?outside=20.75+mm&pitch=14+tpi")
    assert response.text.count("<svg") == 3
    assert response.text.index("would settle it") < response.text.index("<svg") < response.text.index("PT-15-38")
    assert "straightedge" in response.text


def test_a_twisted_hose_is_drawn_from_two_sides_with_its_cuts(demo_shelf) -> None:
    # kestwald_formteile.csv: 47/6120 has legs 140, 120, 200, bends 90 and 90, twist 60; 47/6121 is its mirror image.
    right, left = ask(
        demo_shelf,
        "/hoses?legs=100+mm,120+mm,120+mm&bends=90,90&twists=60&inside=38+mm",
        "/hoses?legs=100+mm,120+mm,120+mm&bends=90,90&twists=-60&inside=38+mm",
    )
    assert "47/6120" in right.text
    assert "47/6121" not in right.text
    assert "47/6121" in left.text
    assert right.text.count("<svg") == 2
    assert "A: cut 40 mm off" in right.text
    assert "B: cut 80 mm off" in right.text
