"""Ranges on the page: the preview is what judging again gives, and nobody's change is lost."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.results import Measurement
from pipeline.targets.history import history_path, read_history
from pipeline.targets.load import load_targets
from pipeline.web.review.target_preview import NO_RANGE, PastRep, preview_change, verdict_word
from tests.fixtures.reviewed import OWN, context_of, page_of

FORM = {"move": "throwback_pass", "measure": "step_back_m", "low": "0.15", "high": "", "why": "age"}


def past(value, u=0.01, **told):
    return PastRep(
        **{"move": "throwback_pass", "level": "any", "hand": "right", "athlete": "K. M.",
           "stature_m": 1.8, **told},
        measurement=Measurement(key="step_back_m", unit="m", value=value, u=u),
    )  # fmt: skip


@pytest.fixture
def targets_with(tmp_path):
    def make(low):
        path = tmp_path / f"{low}.toml"
        path.write_text(
            f'[throwback_pass.any.step_back_m]\nlow_m = {low}\nset_by = "c"\nwhy = "w"\n',
            encoding="utf-8",
        )
        return load_targets(path)

    return make


def test_only_reps_between_the_two_bounds_change(targets_with):
    before, after = targets_with(0.5), targets_with(0.3)
    seen = preview_change([past(0.1), past(0.4), past(0.4), past(0.9)], before, after)
    assert (seen.n, seen.n_changed) == (4, 2)
    assert seen.moved == {("out of range", "in range"): 2}
    assert seen.now == {"out of range": 3, "in range": 1}


def test_a_number_near_the_bound_becomes_too_close(targets_with):
    assert verdict_word(past(0.5, u=0.2), targets_with(0.5)) == "too close to call"


def test_a_measure_without_any_range_has_none():
    targets = load_targets(None)
    rep = PastRep(
        move="throwback_pass", level="any", hand=None, athlete="a", stature_m=1.8,
        measurement=Measurement(key="knee_in_deg", unit="deg", value=3.0, u=1.0),
    )  # fmt: skip
    assert verdict_word(rep, targets) == NO_RANGE


@pytest.mark.slow
@given(values=st.lists(st.floats(0, 2), max_size=20))
def test_the_same_ranges_change_nothing(values):
    targets = load_targets(None)
    seen = preview_change([past(value) for value in values], targets, targets)
    assert seen.n_changed == 0
    assert seen.n == len(values) == sum(seen.now.values())


def version_in(page):
    html = page.get("/targets?move=throwback_pass&measure=step_back_m").text
    return re.search(r'name="version" value="(\w+)"', html)[1]


@pytest.mark.slow
def test_the_preview_writes_nothing_and_says_how_many_change(page, data, clip):
    answer = page.post("/targets/preview", data=FORM, headers=OWN)
    assert answer.status_code == 200
    assert re.search(r"<strong>\d of the last 4 reps would have another verdict", answer.text)
    assert not (data / "targets.toml").exists()


def test_a_saved_range_holds_and_its_history_says_who_and_why(page, data, clip):
    form = {**FORM, "version": version_in(page)}
    assert page.post("/targets/save", data=form, headers=OWN).status_code == 303
    path = data / "targets.toml"
    assert load_targets(path).for_athlete("throwback_pass", "any", 1.8)["step_back_m"].low == 0.15
    (record,) = read_history(history_path(path))
    assert (record.by, record.why) == ("Coach K.", "age")


@pytest.mark.slow
def test_two_windows_that_change_ranges_lose_nothing(context, log, data, clip):
    one, other = page_of(context), page_of(context_of(log, by="Coach B."))
    version = version_in(one)
    one.post("/targets/save", data={**FORM, "version": version}, headers=OWN)
    mine = {**FORM, "low": "0.25", "version": version}
    answer = other.post("/targets/save", data=mine, headers=OWN)
    assert answer.status_code == 409
    assert "0.25" in answer.text
    assert "0.15" in answer.text
    assert version_in(one) in answer.text
    assert "0.15" in (data / "targets.toml").read_text()


@pytest.mark.slow
@pytest.mark.parametrize(
    "told",
    [
        {"low": "x"}, {"low": "nan"}, {"low": "1e999"}, {"low": "2", "high": "1"}, {"low": ""},
        {"measure": "x"}, {"move": "x"}, {"level": "x"}, {"hand": "both"}, {"why": ""},
        {"why": "a\x1bb"},
    ],
)  # fmt: skip
def test_a_range_that_cannot_be_meant_is_refused(page, data, clip, told):
    form = {**FORM, "version": version_in(page), **told}
    assert page.post("/targets/save", data=form, headers=OWN).status_code == 400
    assert not (data / "targets.toml").exists()


def test_a_side_that_nobody_touched_stays_as_it_is_written(page, data, clip):
    form = {**FORM, "low": "0.5", "was_low": "0.5", "high": "1.2", "version": version_in(page)}
    assert page.post("/targets/save", data=form, headers=OWN).status_code == 303
    assert "low" not in (data / "targets.toml").read_text().replace("high", "")
    same = {**form, "high": "", "version": version_in(page)}
    assert page.post("/targets/save", data=same, headers=OWN).status_code == 400
