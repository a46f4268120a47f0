import csv
import io
import json
from dataclasses import replace

import jsonschema
import numpy as np
import pytest

from pipeline.core.errors import OutputError
from pipeline.core.results import Caution, Measurement, RangesUsed
from pipeline.core.types import Event
from pipeline.report.manifest import MANIFEST_NAME, read_manifest
from pipeline.report.results import (
    SCHEMA_PATH,
    reps_csv,
    reps_json,
    results_folder,
    write_results,
)

SCHEMA = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))


def check(text):
    document = json.loads(text, parse_constant=lambda name: pytest.fail(f"{name} in JSON"))
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.Draft202012Validator(SCHEMA).validate(document)
    return document


@pytest.mark.slow
@pytest.mark.parametrize("move", ["high_to_low_shot", "throwback_pass", "close_gap_dodge"])
def test_json_keeps_its_contract(make, move):
    document = check(reps_json(make(move=move)))
    assert document["schema"] == "crossemetry.reps/1"
    assert document["clip"]["name"] == "evening practice 3.mp4"
    assert [rep["index"] for rep in document["reps"]] == [1, 2, 3, 4]


def test_json_holds_what_was_measured_and_why_something_was_not(analysis):
    first, _, third, _ = check(reps_json(analysis))["reps"]
    height = first["measures"]["hand_height_before_release_m"]
    assert height["value"] == 1.83
    assert height["u"] == 0.02
    assert height["unit"] == "m"
    assert height["interval95"] == pytest.approx([1.7908, 1.8692])
    assert third["measures"]["hand_height_before_release_m"] == {
        "value": None,
        "u": None,
        "unit": "m",
        "interval95": None,
        "reason": "hand hidden for 9 of 14 frames",
    }
    assert first["events"]["release"] == {"time_s": 1.71, "u_s": 0.012, "frame": 51}
    assert third["stick_hand"] is None


def test_json_says_who_it_is_and_which_ranges_were_used(analysis):
    used = RangesUsed(source="coach", digest="0123456789ab", changed="2026-03-01T10:00:00Z")
    clip = check(reps_json(replace(analysis, athlete="K. <M.>", ranges=used)))["clip"]
    assert clip["athlete"] == "K. <M.>"
    assert clip["ranges"] == {
        "source": "coach", "digest": "0123456789ab", "changed": "2026-03-01T10:00:00Z",
    }  # fmt: skip
    clip = check(reps_json(analysis))["clip"]
    assert (clip["athlete"], clip["ranges"]) == (None, None)


def test_json_of_a_clip_without_reps(make):
    document = check(reps_json(make(n_reps=0)))
    assert document["reps"] == []
    assert document["session"]["moves"] == []
    assert check(reps_json(replace(make(n_reps=0), session=None)))["session"] is None


def test_json_holds_the_session_and_what_it_rests_on(make):
    session = check(reps_json(make(n_reps=8)))["session"]
    assert session["went_well"]["key"] == "hand_drop_m"
    assert session["work_on"]["side"] == "low"
    (move,) = session["moves"]
    assert (move["move"], move["n_reps"]) == ("high_to_low_shot", 8)
    drop = move["measures"]["hand_drop_m"]
    assert drop["n_measured"] == 8
    assert (drop["n_in"], drop["n_low"]) == (6, 2)
    assert drop["mean"] == pytest.approx(0.5275)
    assert drop["trend"]["n_third"] == 2
    assert drop["trend"]["word"] == "no clear change"


def test_json_holds_cautions_with_their_key_reps_and_numbers(make):
    document = check(reps_json(make(move="close_gap_dodge")))
    by_key = {caution["key"]: caution for caution in document["clip"]["cautions"]}
    assert by_key["contact"]["reps"] == [2, 4]
    assert by_key["load"]["numbers"] == {"n_reps": 4.0}
    assert all(caution["text"] for caution in by_key.values())


def test_json_of_cautions_and_a_session_never_holds_nan(analysis):
    odd = Caution(key="odd", text="Odd.", reps=(1,), numbers={"odd_m": float("nan")})
    (move,) = analysis.session.moves
    broken = replace(move.measures[0], mean=float("nan"), u_mean=float("inf"))
    session = replace(analysis.session, moves=(replace(move, measures=(broken,)),))
    result = replace(analysis.reps[0], cautions=(odd,))
    document = check(reps_json(replace(analysis, cautions=(odd,), session=session, reps=(result,))))
    assert document["clip"]["cautions"][0]["numbers"] == {"odd_m": None}
    assert document["reps"][0]["cautions"][0]["key"] == "odd"


def test_json_never_holds_nan(make):
    analysis = make(n_reps=1, n_frames=1)
    result = analysis.reps[0]
    broken = Measurement(key="hand_drop_m", unit="m", value=float("nan"), u=float("inf"))
    rep = replace(result.rep, events={"release": Event(time_s=1.0, frame=30)})
    odd = replace(result, rep=rep, measurements={"hand_drop_m": broken})
    document = check(reps_json(replace(analysis, reps=(odd,))))
    assert document["clip"]["frame_rate_hz"] is None
    assert document["reps"][0]["events"]["release"]["u_s"] is None
    drop = document["reps"][0]["measures"]["hand_drop_m"]
    assert drop["value"] is None
    assert "finite" in drop["reason"]


SOURCES = {"keypoints": 0.01, "lens": float("nan"), "timing": 0.02}


def with_sources(analysis, sources, n_reps=1):
    """The analysis with every measured value of its first reps explained in the same way."""

    def explained(measurement):
        return measurement if measurement.value is None else replace(measurement, sources=sources)

    reps = [
        replace(result, measurements={k: explained(m) for k, m in result.measurements.items()})
        for result in analysis.reps[:n_reps]
    ]
    return replace(analysis, reps=(*reps, *analysis.reps[n_reps:]))


def test_json_says_where_the_uncertainty_comes_from_only_when_asked(analysis):
    first, second, *_ = check(reps_json(with_sources(analysis, SOURCES)))["reps"]
    drop = first["measures"]["hand_drop_m"]
    assert drop["sources"] == {"keypoints": {"u": 0.01}, "lens": {"u": None}, "timing": {"u": 0.02}}
    assert drop["dominant"] == "timing"
    assert drop["root_sum_of_squares"] == pytest.approx(0.022361)
    assert not {"sources", "dominant", "root_sum_of_squares"} & set(
        second["measures"]["hand_drop_m"]
    )


@pytest.mark.parametrize(
    "wrong",
    [{"sources": {}}, {"dominant": "lens"}, {"sources": {"wind": {"u": 1.0}}, "dominant": None}],
)
def test_the_schema_refuses_half_an_explanation(analysis, wrong):
    document = json.loads(reps_json(analysis))
    document["reps"][0]["measures"]["hand_drop_m"].update(wrong)
    assert not jsonschema.Draft202012Validator(SCHEMA).is_valid(document)


def test_json_names_no_folder_of_this_machine(analysis):
    assert "/somewhere" not in reps_json(analysis)


def test_csv_has_one_row_per_rep_and_empty_cells_for_gaps(analysis):
    rows = list(csv.DictReader(io.StringIO(reps_csv(analysis))))
    assert len(rows) == 4
    assert rows[0]["hand_height_before_release_m"] == "1.83"
    assert rows[0]["hand_height_before_release_m_u"] == "0.02"
    assert rows[0]["hand_height_before_release_m_reason"] == ""
    assert rows[0]["hand_drop_m_verdict"] == "out of range (low)"
    assert rows[0]["release_time_s"] == "1.71"
    assert rows[2]["hand_height_before_release_m"] == ""
    assert rows[2]["hand_height_before_release_m_reason"] == "hand hidden for 9 of 14 frames"
    assert rows[2]["stick_hand"] == ""


def test_csv_without_reps_still_has_the_columns_of_the_move(make):
    (header,) = csv.reader(io.StringIO(reps_csv(make(n_reps=0))))
    assert header[:4] == ["index", "start_s", "stop_s", "move"]
    assert header[4:7] == ["move_probability", "move_by", "stick_hand"]
    assert "hand_drop_m_verdict" in header


def test_files_are_written_whole_and_nothing_is_left_over(analysis, tmp_path):
    picture = np.full((20, 30, 3), 128, np.uint8)
    written = write_results(analysis, tmp_path, {1: picture, 2: b"\x89PNG already encoded"})
    folder = tmp_path / "evening practice 3"
    assert written[0] == folder / "report.html"
    assert sorted(path.name for path in folder.iterdir()) == [
        MANIFEST_NAME,
        "rep_01.jpg",
        "rep_02.png",
        "report.html",
        "reps.csv",
        "reps.json",
    ]
    assert sorted(read_manifest(folder).entries) == sorted(path.name for path in written)
    assert (folder / "rep_01.jpg").read_bytes().startswith(b"\xff\xd8")


def test_pictures_of_an_earlier_run_go_away_and_other_files_stay(analysis, tmp_path):
    picture = np.zeros((20, 30, 3), np.uint8)
    write_results(analysis, tmp_path, {1: picture, 2: picture})
    folder = tmp_path / "evening practice 3"
    (folder / "my notes.txt").write_text("keep me", encoding="utf-8")
    write_results(analysis, tmp_path, {1: picture})
    assert not (folder / "rep_02.jpg").exists()
    assert (folder / "my notes.txt").exists()


def test_another_film_of_the_same_name_gets_its_own_folder(analysis, tmp_path):
    write_results(analysis, tmp_path, {})
    clip = analysis.clip
    assert results_folder(tmp_path, clip.path, clip.digest).name == "evening practice 3"
    assert results_folder(tmp_path, clip.path, "f" * 64).name == "evening practice 3-ffffffff"


def test_a_place_that_cannot_be_written_to_is_named(analysis, tmp_path):
    in_the_way = tmp_path / "out"
    in_the_way.write_text("a file where the folder should be", encoding="utf-8")
    with pytest.raises(OutputError, match="results cannot be written") as caught:
        write_results(analysis, in_the_way, {})
    assert "--out" in str(caught.value)


def test_a_failed_write_leaves_the_earlier_file(analysis, tmp_path):
    write_results(analysis, tmp_path, {})
    report = tmp_path / "evening practice 3" / "reps.csv"
    before = report.read_bytes()
    (report.parent / "rep_01.jpg").mkdir()
    (report.parent / "rep_01.jpg" / "in the way").touch()
    with pytest.raises(OutputError):
        write_results(analysis, tmp_path, {1: np.zeros((20, 30, 3), np.uint8)})
    assert report.read_bytes() == before
    assert not list(report.parent.glob(".*.part"))
