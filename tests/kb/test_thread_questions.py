"""What would settle a thread, and the words that tell look-alikes apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import entropy

from kb.mechanics.thread_questions import describe, pitch_words, sealing_words, settling_question, tell_apart
from kb.mechanics.threads import (
    LEAVES_MM,
    Candidate,
    Seen,
    Thread,
    Use,
    identify,
    pitch_likelihood,
    seat_likelihood,
    shown,
    tube_likelihood,
)
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


def use(family: str, seat: float | None = None, tube: float | None = None, sealing: str = "face") -> Use:
    return Use(family, "male", "", "M20", seat, sealing, tube, "invented", "", True)


def thread(name: str, pitch: float = 1.5, *uses: Use, taper: bool = False, form: float = 60.0) -> Thread:
    return Thread(name, form, 20.0, pitch, taper, 20.0, 20.0, 18.4, 18.4, 0.0, uses or (use(name),))


def likely(*weighed: tuple[Thread, tuple[float, ...]]) -> list[Candidate]:
    return [
        Candidate(one, tuple(zip(one.uses, weights, strict=True)), max(weights), 100.0, 1.0, 1.0)
        for one, weights in weighed
    ]


def mutual_information_bits(weights: list[float], likelihoods: list[list[float]]) -> float:
    """Of hypotheses and answers, by scipy's entropies: H(hypotheses) + H(answers) - H(both)."""
    rows = np.array(likelihoods)
    joint = np.array(weights)[:, np.newaxis] / sum(weights) * rows / rows.sum(axis=1, keepdims=True)
    return float(
        entropy(joint.sum(axis=1), base=2) + entropy(joint.sum(axis=0), base=2) - entropy(joint.ravel(), base=2)
    )


@pytest.mark.parametrize("weights", [(1.0, 1.0, 1.0), (5.0, 2.0, 1.0), (0.2, 0.3, 0.9)])
def test_the_gain_is_the_mutual_information_of_family_and_answer(weights) -> None:
    seats = thread("a", 1.5, use("x", 12.0), use("y", 37.0), use("z"))
    asked = settling_question(likely((seats, weights)), Seen(20.0))
    told = [[seat_likelihood(half, None, seen) for seen in (12.0, 37.0, 0.0)] for half in (12.0, 37.0, None)]
    assert asked.kind == "seat"
    assert asked.gain_bits == pytest.approx(mutual_information_bits(list(weights), told))
    tubes = thread("a", 1.5, use("x", None, 12.0), use("y", None, 12.7), use("z"))
    asked = settling_question(likely((tubes, weights)), Seen(20.0))
    told = [[tube_likelihood(tube, 12.0), tube_likelihood(tube, 12.7), 0.05] for tube in (12.0, 12.7)]
    told.append([tube_likelihood(None, 12.0), tube_likelihood(None, 12.7), 1.0])
    assert asked.kind == "tube"
    assert asked.gain_bits == pytest.approx(mutual_information_bits(list(weights), told))
    pitches = [thread(f"p{pitch}", pitch) for pitch in (1.0, 1.5, 2.0)]
    asked = settling_question(likely(*((one, (w,)) for one, w in zip(pitches, weights, strict=True))), Seen(20.0))
    told = [[pitch_likelihood(pitch, leaf) for leaf in LEAVES_MM] for pitch in (1.0, 1.5, 2.0)]
    assert asked.kind == "pitch"
    assert asked.gain_bits == pytest.approx(mutual_information_bits(list(weights), told))
    assert asked.words.startswith("1 or 1.5 or 2 mm: put the pitch gauge on")


def test_answers_say_what_they_leave_and_no_cone_comes_last() -> None:
    seats = thread("a", 1.5, use("x", 12.0), use("y", 37.0), use("z"), use("w", 12.0))
    asked = settling_question(likely((seats, (1.0, 2.0, 4.0, 3.0))), Seen(20.0))
    assert asked.answers == (("24 degree cone", "M20, w; M20, x"), ("37 degree seat", "M20, y"), ("no cone", "M20, z"))
    assert asked.words == "24 degree cone, or 37 degree seat, or no cone: put the seat gauge on the cone."


def test_of_many_answers_the_four_likeliest_are_named_and_those_of_one_in_a_hundred_not() -> None:
    many = thread("a", 1.5, *(use(f"u{half}", float(half)) for half in (25, 30, 37, 45, 50)))
    asked = settling_question(likely((many, (1.0, 5.0, 4.0, 3.0, 2.0))), Seen(20.0))
    assert [said for said, _ in asked.answers] == [f"{half} degree seat" for half in (30, 37, 45, 50)]
    asked = settling_question(likely((many, (10.0, 10.0, 0.1, 0.3, 0.0))), Seen(20.0))
    assert [said for said, _ in asked.answers] == ["25 degree seat", "30 degree seat", "45 degree seat"]


def test_taper_sealing_and_flanks_are_asked_for_in_turn() -> None:
    pair = [thread("parallel", 1.5, use("a")), thread("tapered", 1.5, use("b"), taper=True)]
    asked = settling_question(likely((pair[0], (1.0,)), (pair[1], (1.0,))), Seen(20.0))
    assert (asked.kind, [said for said, _ in asked.answers]) == ("taper", ["parallel", "taper"])
    assert asked.words.startswith("Parallel or taper: lay a straightedge")
    sealed = thread("a", 1.5, use("x", sealing="metal cone, flared"), use("y", sealing="O-ring"))
    asked = settling_question(likely((sealed, (1.0, 1.0))), Seen(20.0))
    assert (asked.kind, dict(asked.answers)) == ("sealing", {"metal cone": "M20, x", "O-ring": "M20, y"})
    assert settling_question(likely((sealed, (1.0, 1.0))), Seen(20.0, seat_deg=0.0)) is not None
    assert settling_question(likely((sealed, (1.0, 1.0))), Seen(20.0, seat_deg=37.0)) is None
    forms = [thread("w", 1.5, use("a"), form=55.0), thread("u", 1.5, use("b"))]
    asked = settling_question(likely((forms[0], (1.0,)), (forms[1], (1.0,))), Seen(20.0))
    assert asked.kind == "form"
    assert settling_question(likely((forms[0], (1.0,)), (forms[1], (1.0,))), Seen(20.0, form_deg=55.0)) is None


def test_what_is_nearly_certain_is_not_worth_a_question() -> None:
    two = thread("a", 1.5, use("x", 37.0), use("y", 45.0))
    assert settling_question(likely((two, (1.0, 0.005))), Seen(20.0)) is None
    assert settling_question(likely((two, (1.0, 0.1))), Seen(20.0)) is not None


@pytest.mark.parametrize(
    ("pitch", "words"),
    [
        (1.0, "1 mm"),
        (1.25, "1.25 mm"),
        (25.4 / 20, "20 per inch"),
        (25.4 / 11.5, "11.5 per inch"),
        (25.4 / 27, "27 per inch"),
    ],
)
def test_a_pitch_is_said_as_its_gauge_says_it(pitch, words) -> None:
    assert pitch_words(pitch) == words


def test_inch_tubes_are_said_in_sixteenths() -> None:
    tubes = thread("a", 1.5, use("x", None, 12.7), use("y", None, 15.0), use("z"))
    asked = settling_question(likely((tubes, (1.0, 1.0, 1.0))), Seen(20.0))
    assert [said for said, _ in asked.answers] == ["12.7 mm (1/2 in) tube", "15 mm tube", "no tube"]


def test_sealing_in_words() -> None:
    assert sealing_words("bonded seal or copper ring") == "seal or cone beside the thread"
    assert sealing_words("taper thread") == "on the thread"
    assert sealing_words("O-ring") == "O-ring"


def test_threads_in_a_line() -> None:
    assert describe(thread("M", 1.5)) == "M: parallel, 1.5 mm (16.9 per inch), 20.00 mm (0.787 in) outside"
    assert (
        describe(thread("M", 25.4 / 14), inside=True)
        == "M: parallel, 14 per inch (1.814 mm), 18.40 mm (0.724 in) inside"
    )
    tapered = replace(thread("R", 25.4 / 14, taper=True, form=55.0), male_small_mm=19.5, male_large_mm=20.5)
    assert describe(tapered) == (
        "R: taper, 14 per inch (1.814 mm), 19.50 to 20.50 mm outside along it (at the gauge plane 20.00 mm (0.787 in))"
    )
    assert describe(tapered, inside=True) == "R: taper, 14 per inch (1.814 mm), 18.40 to 18.40 mm inside along it"


def test_sizes_are_told_apart_by_five_thousandths_of_a_millimetre_and_more() -> None:
    this = thread("M", 1.5)
    for off, said in ((0.25, "0.25 mm larger outside"), (-0.5, "0.50 mm smaller outside"), (0.004, "")):
        other = replace(this, male_small_mm=20.0 + off, male_large_mm=20.0 + off)
        assert tell_apart(this, other) == said
    tapered = replace(this, taper=True, male_small_mm=19.5)
    assert tell_apart(tapered, this) == "parallel instead of taper, 20.00 mm outside"
    assert tell_apart(this, replace(this, pitch_mm=1.5 * 1.01)).startswith("17 per inch instead of 1.5 mm")
