"""Threads as drawn: angles, pitches and diameters are measured off the drawing and held to the thread's own."""

from __future__ import annotations

import itertools
import math
import re
import xml.etree.ElementTree as Tree

import pytest

from kb.reference.thread_names import threads_named
from kb.reference.threads import thread_candidates
from queries.drawings.threads import MOST, draw_threads, look_alikes


def outline(svg: str) -> list[tuple[float, float]]:
    polygon = Tree.fromstring(svg).find("{http://www.w3.org/2000/svg}polygon")
    assert polygon is not None
    return [tuple(map(float, pair.split(","))) for pair in polygon.get("points", "").split()]


def slopes(points: list[tuple[float, float]]) -> list[float]:
    """Each edge's angle from the axis, 0 to 90 degrees, with its length over 0.2 mm."""
    found = []
    for (x, y), (to_x, to_y) in itertools.pairwise(points):
        if math.hypot(to_x - x, to_y - y) > 0.2:
            found.append(math.degrees(math.atan2(abs(to_y - y), abs(to_x - x))))
    return found


def drawn(name: str, inside: bool = False, place: int = 0) -> list[tuple[float, float]]:
    thread = threads_named(name)[0]
    return outline(draw_threads([(thread, thread.uses[place])], inside)[0][0])


@pytest.mark.parametrize(("name", "half"), [("7/8-14", 30.0), ("G 1/2", 27.5), ("M22x1.5", 30.0)])
@pytest.mark.parametrize("inside", [False, True])
def test_flanks_stand_at_half_the_forms_angle(name, half, inside) -> None:
    flanks = [slope for slope in slopes(drawn(name, inside)) if abs(slope - (90 - half)) < 1.5]
    assert len(flanks) >= 8


@pytest.mark.parametrize("inside", [False, True])
@pytest.mark.parametrize("name", ["7/8-14", "M22x1.5", "R 1/2", "1/2 NPT"])
def test_crests_are_a_pitch_apart_and_grow_as_the_taper_does(name, inside) -> None:
    thread = threads_named(name)[0]
    points = drawn(name, inside)
    flats = [
        ((x + to_x) / 2, y)
        for (x, y), (to_x, to_y) in itertools.pairwise(points)
        if abs(to_y - y) < 0.02 and 0 < to_x - x < 0.3 * thread.pitch_mm
    ]
    extreme = [y for _, y in flats]
    crest = max(extreme) if inside else min(extreme)
    crests = [(x, y) for x, y in flats if abs(y - crest) < 0.5 * thread.pitch_mm][:5]
    gaps = [to[0] - one[0] for one, to in itertools.pairwise(crests)]
    assert gaps == pytest.approx([thread.pitch_mm] * len(gaps), abs=0.03)
    # 1:16 on the diameter is 1:32 on the radius; a male end grows away from its nose, a female one narrows from its mouth.
    rise = (crests[0][1] - crests[-1][1]) / (crests[-1][0] - crests[0][0])
    expected = 0.0 if not thread.taper else -1 / 32 if inside else 1 / 32
    assert rise == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("place", "half"), [(0, 37.0), (2, 45.0)])
@pytest.mark.parametrize("inside", [False, True])
def test_a_flares_cone_has_its_seats_angle(place, half, inside) -> None:
    assert any(abs(slope - half) < 0.5 for slope in slopes(drawn("7/8-14", inside, place)))


def test_an_end_without_a_cone_shows_none() -> None:
    assert not any(30 < slope < 50 for slope in slopes(drawn("7/8-14", False, 1)) if abs(slope - 45) > 1)


def test_the_dashed_line_is_the_first_ones_crest_in_all() -> None:
    # G 1/2 is 20.955 mm and M22x1.5 22 mm over their crests: half of the difference stands between line and crest.
    one, other = threads_named("G 1/2")[0], threads_named("M22x1.5")[0]
    drawings = [svg for svg, _ in draw_threads([(one, one.uses[0]), (other, other.uses[0])], False)]
    line = float(re.search(r'<line x1="0" x2="[\d.]+" y1="([\d.]+)"', drawings[1])[1])
    flats = [
        a[1] for a, b in zip(outline(drawings[1]), outline(drawings[1])[1:], strict=False) if abs(a[1] - b[1]) < 0.01
    ]
    crest = min(y for y in flats if abs(y - line) < 1.0)
    assert line - crest == pytest.approx((22.0 - 20.955) / 2, abs=0.02)


@pytest.mark.parametrize("thread", thread_candidates(), ids=lambda thread: thread.name)
@pytest.mark.parametrize("inside", [False, True])
def test_every_end_of_the_table_is_drawn_within_its_frame(thread, inside) -> None:
    for svg, caption in draw_threads([(thread, use) for use in thread.uses], inside):
        left, top, width, height = map(float, Tree.fromstring(svg).get("viewBox", "").split())
        for x, y in outline(svg):
            assert left - 0.01 <= x <= left + width + 0.01
            assert top - 0.01 <= y <= top + height + 0.01
        assert "seals on" in caption
        assert "style=" not in svg


def test_no_more_than_fit_side_by_side_and_each_once() -> None:
    thread = threads_named("7/8-14")[0]
    pairs = [(thread, use) for use in (*thread.uses, *thread.uses)]
    assert look_alikes(pairs) == [(thread, use) for use in thread.uses]
    many = [(one, one.uses[0]) for one in thread_candidates()]
    assert len(look_alikes(many)) == MOST
    assert draw_threads([], False) == []
