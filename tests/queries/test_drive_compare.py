"""Two drives side by side, worked out by hand: speeds by pitch diameters, fan laws, directions, planes."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.errors import AnswerError, DriveError
from kb.sheets.drive import read_drive
from queries.drive_compare import CompareAnswer, CompareQuestion, ask_compare
from queries.drives import known_drive


def compare(before: str, after: str, **asked: float) -> CompareAnswer:
    sheets = [(read_drive(text, name=name),) for text, name in ((before, "before.toml"), (after, "after.toml"))]
    return ask_compare(CompareQuestion(*sheets, **asked))


def speeds(answer: CompareAnswer) -> dict[str, dict[str, object]]:
    return {row["name"]: row for row in answer.as_json()["speeds"]}  # type: ignore[attr-defined, index]


def test_speeds_go_by_pitch_diameters(before_text, after_text) -> None:
    # before, as its pitch line is not known: 200 / 160 and 200 / 100. After, ISO 9981 clause 5.4: crank and fan 196 + 4 each;
    # the pump on the belt's back 98 + 2 (cord to back 1 mm, from memory), so 200 / 100 again.
    rows = speeds(compare(before_text, after_text))
    assert rows["fan"]["idle_before_rpm"] == pytest.approx(750)
    assert rows["fan"]["idle_after_rpm"] == pytest.approx(600)
    assert rows["fan"]["governed_before_rpm"] == pytest.approx(2500)
    assert rows["fan"]["governed_after_rpm"] == pytest.approx(2000)
    assert rows["fan"]["change_pct"] == pytest.approx(-20)
    assert rows["pump"]["governed_after_rpm"] == pytest.approx(4000)
    assert [name for name, row in rows.items() if row["flagged"]] == ["fan"]
    assert rows["tensioner"]["governed_before_rpm"] is None


def test_a_change_is_flagged_beyond_the_share_only(before_text, after_text) -> None:
    assert not speeds(compare(before_text, after_text, share=0.2001))["fan"]["flagged"]
    assert speeds(compare(before_text, after_text, share=0.1999))["fan"]["flagged"]
    with pytest.raises(AnswerError, match="share"):
        compare(before_text, after_text, share=-0.1)


def test_fan_power_goes_with_the_cube_of_its_speed(before_text, after_text) -> None:
    # fan laws (textbook): (2000 / 2500)^3 = 0.512; 16 kW become 8.192 kW, which the belt after must carry
    answer = compare(before_text, after_text)
    (fan,) = answer.fans
    assert (fan.factor, fan.after_kw) == pytest.approx((0.512, 8.192))
    assert next(one for one in answer.grip.pulleys if one.pulley == "fan").takes_kw == pytest.approx(8.192)
    assert any("by the cube of its speed" in note for note in answer.notes)
    said = compare(before_text, after_text.replace("pulley_offset = -4.5", "pulley_offset = -4.5\nload_kw = 16"))
    assert any("16 kW of before become 8.2 kW" in one for one in said.cautions)
    assert next(one for one in said.grip.pulleys if one.pulley == "fan").takes_kw == 16


def test_a_load_only_the_sheet_before_gives_is_taken_over_and_said(before_text, after_text) -> None:
    answer = compare(before_text, after_text.replace("load_kw = 4", ""))
    assert next(one for one in answer.grip.pulleys if one.pulley == "pump").takes_kw == 4
    assert any(note.startswith("pump: the sheet after gives no load_kw; 4.0 kW") for note in answer.notes)


def test_a_part_on_the_belts_back_turns_the_wrong_way(before_text, after_text) -> None:
    answer = compare(before_text, after_text)
    assert answer.wrong_way == (("pump", "it now turns anticlockwise, seen from the front: the belt's back drives it"),)
    assert (speeds(answer)["pump"]["turns_before"], speeds(answer)["pump"]["turns_after"]) == (
        "clockwise",
        "anticlockwise",
    )


def test_what_the_sheet_asks_for_counts_more_than_what_was(before_text, after_text) -> None:
    minds = after_text.replace("load_kw = 4", 'load_kw = 4\nmust_turn = "anticlockwise"')
    assert compare(before_text, minds).wrong_way == ()
    minded = before_text.replace("load_kw = 4", 'load_kw = 4\nmust_turn = "anticlockwise"')
    assert compare(minded, after_text).wrong_way == ()


def test_a_reversed_driver_turns_all_the_wrong_way(before_text, after_text) -> None:
    answer = compare(before_text, after_text.replace('rotation = "clockwise"', 'rotation = "anticlockwise"'))
    assert {name for name, _ in answer.wrong_way} == {"crank", "fan"}
    assert "the driver or the route is reversed" in dict(answer.wrong_way)["fan"]


def test_a_rotation_that_is_not_given_is_taken_as_the_others_and_said(before_text, after_text) -> None:
    answer = compare(before_text.replace('rotation = "clockwise"', ""), after_text)
    assert any("rotation: not given by Before" in note for note in answer.notes)
    neither = compare(*(text.replace('rotation = "clockwise"', "") for text in (before_text, after_text)))
    assert any("clockwise (common practice, no source)" in note for note in neither.notes)
    assert answer.wrong_way == neither.wrong_way


def test_engine_speeds_of_one_sheet_serve_both_and_of_none_are_asked_for(before_text, after_text) -> None:
    answer = compare(before_text.replace("idle_rpm = 600", ""), after_text)
    assert speeds(answer)["fan"]["idle_before_rpm"] == pytest.approx(750)
    assert any(note.startswith("idle_rpm: Before gives none") for note in answer.notes)
    with pytest.raises(DriveError, match=r"after\.toml: governed_rpm is given neither here nor in before\.toml"):
        compare(*(text.replace("governed_rpm = 2000", "") for text in (before_text, after_text)))


def test_a_part_that_nothing_turns_any_more_is_said(before_text, after_text) -> None:
    answer = compare(before_text.replace('"pump"', '"blower"'), after_text)
    assert "blower was turned before and is turned by no belt after" in answer.cautions


def test_a_further_belt_multiplies_speeds_and_directions(before_text, after_text) -> None:
    # from the fan shaft (5/4 of the crank) on: 120 / 80, so 1.875 turns per turn of the crank; on its back the other way
    second = """
name = "Second"
profile = "13A"
belt_plane = 120
belt_over_rim = 2
[[pulley]]
name = "fan"
effective_diameter = 120
face = "grooved"
driver = true
at = [0, 400]
[[pulley]]
name = "alternator"
effective_diameter = 80
face = "grooved"
at = [300, 400]
[[pulley]]
name = "blower"
outside_diameter = 78
face = "flat"
at = [150, 488]
"""
    before, after, also = (read_drive(text) for text in (before_text, after_text, second))
    answer = ask_compare(CompareQuestion((before, also), (after,)))
    rows = speeds(answer)
    assert rows["alternator"]["governed_before_rpm"] == pytest.approx(2000 * 1.25 * 1.5)
    assert (rows["alternator"]["turns_before"], rows["blower"]["turns_before"]) == ("clockwise", "anticlockwise")
    both = ask_compare(CompareQuestion((before,), (after, also)))
    # SAE J636: 0.500 in wide (checked in the table of profiles); PK: 8 x 3.56 mm behind its first rib at 60
    assert [one.belt for one in both.order] == ["After", "Second"]
    assert "goes on first" in both.order[0].why
    back = 120 - 12.7 / 2 - (60 - 3.5 * 3.56 + 4 * 3.56)
    assert f"{back:.1f} mm in front of After" in both.order[1].why
    with pytest.raises(DriveError, match="'fan' is turned by no other belt"):
        ask_compare(CompareQuestion((replace(before, pulleys=before.pulleys[:2]), also), (after,)))


def test_belts_whose_planes_are_not_known_or_overlap_have_no_order(before_text, after_text) -> None:
    before, after = read_drive(before_text), read_drive(after_text)
    unknown = ask_compare(CompareQuestion((before,), (after, read_drive(before_text.replace("belt_plane = 80", "")))))
    assert unknown.order == ()
    assert any("Before gives no belt_plane" in one for one in unknown.cautions)
    with pytest.raises(DriveError, match="overlap by"):
        ask_compare(CompareQuestion((before,), (after, read_drive(before_text.replace("= 80", "= 61")))))


def test_what_was_assumed_is_told_with_its_source(before_text, after_text) -> None:
    assert compare(before_text, after_text).assumed == ()  # the sheet gives every one of them
    bare = "\n".join(
        line for line in after_text.splitlines() if not line.startswith(("friction", "design", "belt_mass"))
    )
    assumed = {one.name: one for one in compare(before_text, bare).assumed}
    assert set(assumed) == {"belt mass", "friction", "design ratio", "design ratio, flat"}
    assert all(one.source and one.status == "from memory" for one in assumed.values())
    assert assumed["belt mass"].value == pytest.approx(8 * 0.018)


def test_a_compare_of_a_drive_with_itself_changes_nothing(after_text) -> None:
    answer = compare(after_text, after_text, share=0.0)
    assert not any(row["flagged"] for row in speeds(answer).values())
    assert answer.wrong_way == ()
    assert [one.factor for one in answer.fans] == [1.0]


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(turned=st.integers(0, 3), backwards=st.booleans())
def test_where_the_list_begins_and_which_way_it_runs_changes_nothing(
    before_text, after_text, turned, backwards
) -> None:
    before, after = read_drive(before_text), read_drive(after_text)
    pulleys = [*after.pulleys[turned:], *after.pulleys[:turned]]
    other = replace(after, pulleys=tuple(reversed(pulleys)) if backwards else tuple(pulleys))
    one, two = (ask_compare(CompareQuestion((before,), (sheet,))) for sheet in (after, other))
    assert one.wrong_way == two.wrong_way
    assert {key: row["governed_after_rpm"] for key, row in speeds(one).items()} == pytest.approx(
        {key: row["governed_after_rpm"] for key, row in speeds(two).items()}
    )
    spans = [{(s.leaves, s.reaches): s.grip_low_n for s in answer.grip.spans} for answer in (one, two)]
    assert spans[0] == pytest.approx(spans[1])
    entries = [{(s.leaves, s.reaches): s.entry_deg for s in answer.planes.spans} for answer in (one, two)]
    assert entries[0] == pytest.approx(entries[1], abs=1e-9)
    assert [p.pulley for p in one.grip.pulleys] == [p.pulley for p in two.grip.pulleys]


def test_the_command_tells_all_of_it(run, tmp_path, before_text, after_text) -> None:
    paths = [tmp_path / "before.toml", tmp_path / "after.toml"]
    for path, text in zip(paths, (before_text, after_text), strict=True):
        path.write_text(text)
    named = [str(path) for path in paths]
    done = run("drive", "compare", *named)
    assert done.exit_code == 0
    for said in (
        "Before → After; flagged beyond 10 %",
        "16 kW become 8.2 kW",
        "Wrong way: pump",
        "stack",
        "Grip at 2000 rpm, worst first",
        "on the slack side",
    ):
        assert said in done.stdout, said
    assert max(map(len, (line for line in done.stdout.splitlines() if not line.startswith("Look")))) <= 110
    told = json.loads(run("drive", "compare", *named, "--json").stdout)
    help_text = " ".join(run("drive", "compare", "--help").stdout.split())
    assert f"JSON, lengths in mm: {', '.join(told)}." in help_text
    assert f"speeds: {', '.join(told['speeds'][0])}." in help_text
    assert f"fan_power: {', '.join(told['fan_power'][0])}." in help_text
    assert f"planes: {', '.join(told['planes'])}." in help_text
    for key in told["grip"]:
        assert key in help_text.split("grip:")[1]
    table = run("drive", "compare", *named, "--csv").stdout.lstrip("\ufeff").splitlines()
    assert table[0].split(",") == list(told["speeds"][0])
    assert len(table) == len(told["speeds"]) + 1
    flagged = json.loads(run("drive", "compare", *named, "--share", "25", "--json").stdout)["speeds"]
    assert not any(row["flagged"] for row in flagged)


def test_the_command_refuses_in_words(run, tmp_path, before_text, after_text) -> None:
    paths = [tmp_path / "before.toml", tmp_path / "after.toml"]
    for path, text in zip(paths, (before_text, after_text), strict=True):
        path.write_text(text)
    missing = run("drive", "compare", str(paths[0]), str(tmp_path / "none.toml"))
    assert (missing.exit_code, "no such file" in missing.stderr) == (1, True)
    long = run("drive", "compare", *map(str, paths), "--belt", "9 m")
    assert long.exit_code == 1
    assert "does not hold the arm between its stops" in long.stderr
    assert run("drive", "compare", *map(str, paths), "--share", "-1").exit_code == 2


def test_the_belts_length_sets_the_arm(before_text, after_text) -> None:
    middle = compare(before_text, after_text)
    assert middle.arm_deg == pytest.approx(90)
    assert any("middle of its window" in note for note in middle.notes)
    at_rest = known_drive(read_drive(after_text)).drive.length_at_mm(math.radians(93.0))
    told = compare(before_text, f"belt_length = {at_rest:.9f}\n" + after_text)
    assert told.arm_deg == pytest.approx(93.0, abs=1e-6)
