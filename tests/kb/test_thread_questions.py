"""What would settle a thread, and the words that tell look-alikes apart."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kb.mechanics.thread_questions import describe, settling_question, tell_apart
from kb.mechanics.threads import Seen, identify, shown
from kb.reference.threads import thread_candidates

THREADS = {thread.name: thread for thread in thread_candidates()}
FOURTEEN = 25.4 / 14


def _asked(seen: Seen):
    return settling_question(shown(identify(THREADS.values(), seen)), seen)


def test_a_flare_is_settled_by_the_seat_gauge() -> None:
    question = _asked(Seen(22.1, pitch_mm=FOURTEEN))
    assert question.words == "37 or 45 degree seat, or no cone: put the seat gauge on the cone."
    answers = dict(question.answers)
    assert "37-degree flare" in answers["37 degree seat"]
    assert "45-degree flare" in answers["45 degree seat"]
    assert "O-ring boss" in answers["no cone"]


def test_what_was_seen_is_not_asked_again() -> None:
    seen = Seen(26.95)
    kinds = []
    while (question := _asked(seen)) is not None:
        assert question.kind not in kinds
        kinds.append(question.kind)
        seen = {
            "pitch": replace(seen, pitch_mm=25.4 / 12),
            "seat": replace(seen, seat_deg=37),
            "taper": replace(seen, taper=False),
            "tube": replace(seen, tube_outside_mm=19.05),
        }[question.kind]
    assert kinds[0] == "pitch"
    assert "seat" in kinds


def test_tapers_that_overlap_are_settled_by_their_flanks() -> None:
    question = _asked(Seen(21.0, pitch_mm=FOURTEEN, taper=True))
    assert question.kind == "form"
    assert question.words.startswith("55 or 60 degree flanks:")


def test_light_and_heavy_cones_are_settled_by_the_tube() -> None:
    question = _asked(Seen(22.0, pitch_mm=1.5, seat_deg=24))
    assert question.kind == "tube"
    assert question.words.startswith("14 or 15 mm tube")


def test_no_question_where_nothing_is_left_to_settle() -> None:
    assert _asked(Seen(26.95, pitch_mm=2.0)) is None
    assert settling_question((), Seen(22.0)) is None


def test_the_expected_gain_is_the_entropy_of_a_fair_choice() -> None:
    # Two equal families, a seat gauge that parts them: all but the gauge's own slips of one bit.
    one = THREADS["7/8-14 UNF"]
    pair = replace(one, uses=tuple(use for use in one.uses if use.seat_half_deg))
    question = settling_question(identify([pair], Seen(22.15)), Seen(22.15))
    assert question.kind == "seat"
    assert 0.85 < question.gain_bits <= 1.0


@pytest.mark.parametrize("inside", [False, True])
def test_different_threads_are_told_apart_and_equal_ones_not(inside) -> None:
    for this in THREADS.values():
        assert tell_apart(this, this, inside) == ""
        for other in THREADS.values():
            if other is not this:
                assert tell_apart(this, other, inside), (this.name, other.name)


def test_differences_in_words() -> None:
    assert (
        tell_apart(THREADS["G 1/2"], THREADS["R 1/2"])
        == "taper instead of parallel, 20.44 to 21.27 mm outside along it"
    )
    said = tell_apart(THREADS["R 1/2"], THREADS["1/2-14 NPT = 1/2-14 NPTF"])
    assert said.startswith("flanks 60 instead of 55 degrees")
    assert tell_apart(THREADS["M8x1"], THREADS["5/16-24 UNF"]) == "24 per inch instead of 1 mm, 0.06 mm smaller outside"


def test_a_pipe_thread_says_what_its_nominal_diameter_is() -> None:
    npt = describe(THREADS["1/2-14 NPT = 1/2-14 NPTF"])
    assert "14 per inch" in npt
    assert "pipe outside diameter 21.34 mm (0.840 in)" in npt
    assert "gauge plane" in describe(THREADS["R 1/2"])
    assert "inside" in describe(THREADS["R 1/2"], inside=True)
