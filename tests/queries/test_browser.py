"""The demo's three look-ups through the pages, in a real Chromium."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).parent.parent.parent
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
LINES = ["lines", *(f"lines/Tender%204%2C%20compressor%20to%20condenser{more}" for more in ("", "/order"))]
SUMS = [
    "fluids",
    "fluids/coolant?system=40+L&now=30&want=50&drainable=8+L&with=60",
    "fluids/vacuum-fill?system=40+L&reading=24+inHg&altitude=2,000+ft&below-pickup=2+qt",
    "fluids/evacuation?reading=500+micron&rise=500+micron,+900+micron,+950+micron",
    "holes?count=5&across=120+mm",
    "holes/match?hub=6+x+120.65+mm,+pilot+63.5+mm&part=12+x+4+3/4+in+hole+11+mm",
    "fan?fan=760&ring=800&offset=3,+8&speed=2200+rpm",
]
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine: apt-get install chromium")


@pytest.fixture(scope="module")
def address(demo_shelf: Path) -> Iterator[str]:
    code = f"from kb.cli import main; main(['--shelf', {str(demo_shelf)!r}, 'serve', '--port', '0'])"
    process = subprocess.Popen([sys.executable, "-u", "-c", code], cwd=ROOT, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    line = process.stdout.readline()
    found = re.search(r"http://\S+:\d+/", line)
    assert found is not None, line
    yield found[0]
    process.terminate()
    process.wait()
    process.stdout.close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
        )
        yield opened
        opened.close()


@pytest.mark.parametrize("width", [390, 1280])
def test_the_three_look_ups(address: str, browser: Browser, width: int) -> None:
    context = browser.new_context(viewport={"width": width, "height": 900}, java_script_enabled=False)
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    page.fill("#q", "8 rib 73 1/8 in")
    page.click("text=Find >> nth=-1")
    assert "00123" in page.inner_text(".cards li >> nth=0")
    page.click(".cards li a >> nth=0")
    assert "73 in (1854 mm)" in page.inner_text("main")
    page.goto(address + "fittings")
    page.fill("#outside", "22.1 mm")
    page.fill("#pitch", "14 tpi")
    page.fill("#seat", "37")
    page.click("text=Look up")
    assert "7/8-14 UNF" in page.inner_text(".cards li >> nth=0")
    page.goto(address + "jobs?like=N-001")
    page.click(".cards li a >> nth=0")
    assert "Troubles and what cured them" in page.inner_text("main")
    assert all(url.startswith((address, "data:")) for url in asked)
    context.close()


@pytest.mark.parametrize("width", [360, 390, 1280])
@pytest.mark.parametrize(
    "path",
    [
        "",
        "belts?length=73+1/8+in&ribs=8",
        "fittings?outside=22.1+mm",
        "jobs",
        "jobs/N-001",
        "jobs/N-022",
        "closing/N-022",
        "summary/N-022",
        "morning?work=new+radiator,+ribbed+belt",
        *LINES,
        *SUMS,
    ],
)
def test_nothing_scrolls_sideways(address: str, browser: Browser, width: int, path: str) -> None:
    context = browser.new_context(viewport={"width": width, "height": 900})
    page = context.new_page()
    page.goto(address + path)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize(
    "path",
    [
        "",
        "find?q=8+rib+73+1/8+in",
        "belts?ribs=8",
        "clamps?around=2+1/4+in",
        "jobs/N-001",
        "closing/N-022",
        "morning?work=radiator",
        *LINES,
        *SUMS,
    ],
)
def test_a_gloved_finger_finds_every_target(address: str, browser: Browser, width: int, path: str) -> None:
    # 44 CSS px each way: WCAG 2.2, success criterion 2.5.5 (target size, enhanced); the number from memory.
    context = browser.new_context(viewport={"width": width, "height": 900})
    page = context.new_page()
    page.goto(address + path)
    small = page.evaluate(
        """[...document.querySelectorAll('a:not(.skip), button, input, select')]
        .map(each => [each.innerText || each.id, each.getBoundingClientRect()])
        .filter(([, box]) => box.height < 43.9 || box.width < 43.9).map(([name]) => name)"""
    )
    assert small == []
    context.close()
