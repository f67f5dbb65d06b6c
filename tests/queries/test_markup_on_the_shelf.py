"""A shelf whose every text is markup: each page that shows one shows it as it was written, and runs none of it."""

from __future__ import annotations

import asyncio
import csv
import io
import re
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import urljoin, urlsplit

import pytest

from queries.explorer.server import build_datasette

SHEETS = Path(__file__).parents[1] / "kb" / "shelves" / "sheets"
MARK = "</title></svg><script>x7</script>\"'><img src=x onerror=x7>&amp;{{7*7}}"
TEXTS = {
    "Part no", "Part number", "Description", "Maker", "Use", "Material", "Style", "Name", "Can supply or make", "Notes",
    "Bay", "Machine", "Engine", "Work", "Parts", "Trouble", "Remedy", "Service", "Job",
}  # fmt: skip
KEYS = "name|machine|work|bay|notes|part_no|supplier|ordered_by|trouble|remedy|job|drive"


def marked_csv(text: str) -> str:
    delimiter = ";" if text.splitlines()[0].count(";") > 3 else ","
    heading, *rows = csv.reader(io.StringIO(text), delimiter=delimiter)
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter)
    writer.writerow(heading)
    for row in rows:
        writer.writerow(
            [f"{cell}{MARK}" if name in TEXTS and cell else cell for name, cell in zip(heading, row, strict=True)]
        )
    return out.getvalue()


def marked_toml(text: str) -> str:
    escaped = MARK.replace('"', '\\"')
    text = re.sub(rf'^({KEYS}) = "([^"]*)"', rf'\1 = "\2{escaped}"', text, flags=re.MULTILINE)
    return re.sub(r'between = \["(\w+)", "(\w+)"\]', rf'between = ["\1{escaped}", "\2{escaped}"]', text)


@pytest.fixture(scope="module")
def marked(tmp_path_factory: pytest.TempPathFactory, run: Any) -> Path:
    folder = tmp_path_factory.mktemp("marked")
    shelf = folder / "shelf.db"
    for source in sorted(SHEETS.iterdir()):
        if source.stem in ("belts_again", "W-009-north", "W-009-wash"):
            continue
        change = marked_toml if source.suffix == ".toml" else marked_csv
        path = folder / source.name
        path.write_text(change(source.read_text(encoding="utf-8")), encoding="utf-8")
        done = run("load", "--supplier", f"Dry Creek{MARK}", str(path), shelf=shelf)
        assert done.exit_code == 0, done.stderr
    return shelf


def crawled(shelf: Path, starts: list[str]) -> dict[str, str]:
    async def followed() -> dict[str, str]:
        datasette = build_datasette(shelf, share=True)
        await datasette.invoke_startup()
        pages: dict[str, str] = {}
        waiting = list(starts)
        while waiting and len(pages) < 150:
            path = waiting.pop(0)
            if path in pages:
                continue
            answer: Any = await datasette.client.get(path, headers={"host": "localhost"}, follow_redirects=True)
            assert answer.status_code < 400 or "/order" in path, (answer.status_code, path)
            pages[path] = answer.text if "text/html" in answer.headers.get("content-type", "") else ""
            for link in re.findall(r'(?:href|src|action)="([^"#]+)', pages[path]):
                full = urlsplit(urljoin(f"http://localhost{path}", unescape(link)))
                if full.scheme == "http" and not full.path.startswith("/-/"):
                    waiting.append(full.path + (f"?{full.query}" if full.query else ""))
        return pages

    return asyncio.run(followed())


STARTS = [
    "/drives", "/lines", "/jobs?text=belt", "/closing", "/belts?length=1857&ribs=8", "/pulleys?diameter=196+mm",
    "/hoses?inside=38+mm", "/fittings?text=7/8-14", "/clamps?around=50+mm", "/find?q=belt", "/find?q=coolant+hose",
    "/adapters?first=female+7/8-14+37&second=female+1/2+NPT", "/morning?work=belt+replaced&machine=Brine+sprayer",
]  # fmt: skip


def test_no_page_carries_markup_of_the_shelfs(marked: Path) -> None:
    pages = crawled(marked, STARTS)
    for path, page in pages.items():
        for raw in ("<script>x7", "<img src=x", "</title></svg><script", "&amp;49"):
            assert raw not in page, (raw, path)
    shown = {path.split("?")[0].split("/")[1] for path, page in pages.items() if "&lt;script&gt;x7" in page}
    assert {"drives", "lines", "jobs", "belts", "hoses", "clamps", "pulleys", "find", "parts", "closing"} <= shown


def test_order_sheets_and_pictures_of_commands_carry_none(marked: Path, run: Any) -> None:
    drive = str(marked.with_name("drive.toml"))
    picture = run("drive", "picture", drive)
    assert picture.exit_code == 0, picture.stderr
    assert "<script>x7" not in picture.stdout
    order = run("line", "order", "--html", "-", str(marked.with_name("line.toml")))
    assert order.exit_code == 0, order.stderr
    assert "<script>x7" not in order.stdout
