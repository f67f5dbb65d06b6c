"""The demo's three look-ups through the pages, in a real Chromium."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
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
    page.fill("#f-outside", "22.1 mm")
    page.fill("#f-pitch", "14 tpi")
    page.fill("#f-seat", "37")
    page.click("text=Look up")
    assert "7/8-14 UNF" in page.inner_text(".cards li >> nth=0")
    page.goto(address + "jobs?like=N-001")
    page.click(".cards li a >> nth=0")
    assert "Troubles and what cured them" in page.inner_text("main")
    assert all(url.startswith((address, "data:")) for url in asked)
    context.close()


@pytest.mark.parametrize("width", [360, 390, 768, 1280])
@pytest.mark.parametrize(
    "path",
    [
        "",
        "belts?length=73+1/8+in&ribs=8",
        "fittings?outside=22.1+mm",
        "adapters?first=male+7/8-14+37&second=female+1/2+NPT",
        "hoses?legs=100+mm,120+mm,120+mm&bends=90,90&twists=60&inside=38+mm",
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
        "fittings?outside=20.75+mm&pitch=14+tpi",
        "adapters?first=male+7/8-14+37&second=female+1/2+NPT",
        "hoses?legs=100+mm,100+mm&bends=45&inside=32+mm",
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
        .filter(each => each.checkVisibility())
        .map(each => [each.innerText || each.id, each.getBoundingClientRect()])
        .filter(([, box]) => box.height < 43.9 || box.width < 43.9).map(([name]) => name)"""
    )
    assert small == []
    context.close()


PAGES = [
    "", "find?q=8+rib+73+1/8+in", "belts?length=73+1/8+in&ribs=8", "pulleys?diameter=3+in", "hoses?inside=1+1/2+in",
    "clamps?around=2+1/4+in", "fittings?outside=22.1+mm&pitch=14+tpi", "jobs?like=N-001", "jobs/N-022", "closing",
    "closing/N-022", "summary/N-022", "morning?work=radiator", "drives",
    "drives/Water%20tender%204%2C%20fan%20plane?belt=1825", "measure",
    "measure/clock-angle", "poster", "parts/belt/Ashwerrin%20Drive%20Parts/00123", "no-such-page", *LINES,
]  # fmt: skip


IN_THE_DARK = [PAGES[1], PAGES[2], PAGES[7], "closing/N-022", "drives/Water%20tender%204%2C%20fan%20plane?belt=1825"]


@pytest.mark.parametrize(
    ("path", "scheme"), [*((path, "light") for path in PAGES), *((path, "dark") for path in IN_THE_DARK)]
)
def test_axe_finds_nothing(address: str, browser: Browser, path: str, scheme: str) -> None:
    # axe-core (https://github.com/dequelabs/axe-core), as axe-playwright-python carries it; with its rule for contrast 7:1.
    context = browser.new_context(viewport={"width": 390, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    page.goto(address + path)
    found = Axe().run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}})
    assert [one["id"] for one in found.response["violations"]] == [], found.generate_report()
    context.close()


def test_it_answers_as_you_type_and_asks_nobody_else(address: str, browser: Browser) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 900})
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    page.locator("#q").press_sequentially("8 rib 73 1/8 in", delay=20)
    page.wait_for_selector(".cards li")
    page.wait_for_function("document.querySelector('#main').innerText.includes('73 1/8 in')")
    assert "00123" in page.inner_text(".cards li >> nth=0")
    assert page.input_value("#q") == "8 rib 73 1/8 in"
    finds = [url for url in asked if "/find" in url]
    assert 1 <= len(finds) < len("8 rib 73 1/8 in"), "debounced: not one question a key"
    assert all(url.startswith((address, "data:")) for url in asked)
    context.close()


def test_everything_is_reached_by_keyboard_alone(address: str, browser: Browser) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.goto(address)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "q"
    page.keyboard.type("8PK1854")
    page.keyboard.press("Enter")
    page.wait_for_selector(".cards li")
    assert "00123" in page.inner_text(".cards li >> nth=0")
    context.close()
