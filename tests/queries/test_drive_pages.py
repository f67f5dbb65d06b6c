"""The drives' pages: they answer, in our words also where they cannot, and a drive is found from its jobs."""

from __future__ import annotations

import asyncio
import re
from html import unescape
from typing import Any
from urllib.parse import quote

from queries.explorer.server import build_datasette

TENDER = "/drives/" + quote("Water tender 4, fan plane", safe="")


def ask(shelf: Any, *paths: str) -> list[Any]:
    async def asked() -> list[Any]:
        datasette = build_datasette(shelf)
        await datasette.invoke_startup()
        return [await datasette.client.get(path, headers={"host": "localhost"}) for path in paths]

    return asyncio.run(asked())


def test_the_list_leads_to_every_drive_and_each_page_is_light(demo_shelf) -> None:
    (listed,) = ask(demo_shelf, "/drives")
    links = re.findall(r'href="(/drives/[^"]+)"', listed.text)
    assert len(links) == 6
    for link, page in zip(links, ask(demo_shelf, *map(unescape, links)), strict=True):
        assert page.status_code == 200, link
        assert "<svg" in page.text
        assert page.text.count("<script") == 1  # our own file
        assert " style=" not in page.text
        assert len(page.content) < 60_000


def test_what_if_shows_the_belt_the_ways_out_and_the_caution(demo_shelf) -> None:
    short, moved = ask(demo_shelf, f"{TENDER}?belt=71+7/8+in", f"{TENDER}?pulley=fan&up=-1/4+in")
    text = unescape(short.text)
    assert "it does not go on" in text
    assert "What to move" in text
    assert "fingers" in text
    assert "key out" in text
    assert moved.status_code == 200
    drawings = [re.search(r"<svg.*?</svg>", page.text, re.DOTALL)[0] for page in (short, moved)]
    assert drawings[0].count("<circle") + 1 == drawings[1].count("<circle")  # the ghost


def test_a_bad_question_is_answered_in_words_and_still_shows_the_drive(demo_shelf) -> None:
    for query in ("belt=long", "pulley=crnk&up=1", "up=3", "pulley=fan&up=-900"):
        (page,) = ask(demo_shelf, f"{TENDER}?{query}")
        assert page.status_code == 400, query
        assert 'role="alert"' in page.text
        assert "<svg" in page.text, query
    (none,) = ask(demo_shelf, "/drives/No%20such")
    assert none.status_code == 404


def test_a_job_leads_to_its_drive_and_back(demo_shelf) -> None:
    (page,) = ask(demo_shelf, TENDER)
    jobs = re.findall(r'href="(/jobs/[^"?]+)"', page.text)
    assert jobs
    (job,) = ask(demo_shelf, jobs[0])
    assert TENDER in job.text


def test_a_moved_pulley_moves_the_window_the_belts_and_the_wraps_too(demo_shelf) -> None:
    # 10 mm nearer along nearly its steepest line: the route gets shorter, so the window's ends do, and no number stays.
    before, after = (unescape(page.text) for page in ask(demo_shelf, TENDER, f"{TENDER}?pulley=fan&up=-10+mm"))
    windows = [re.search(r"Belts from .*?\(([\d.]+) mm\) to", text)[1] for text in (before, after)]
    assert float(windows[1]) < float(windows[0]) - 5
    assert "with fan moved" in after
    rows = [re.search(r'<th scope="row">fan</th>.*?</tr>', text, re.DOTALL)[0] for text in (before, after)]
    assert rows[0] != rows[1]
