"""Names of films that would lead results out of their folder, or that a system keeps for itself."""

from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.core.errors import OutputError
from pipeline.core.files import checked_stem
from pipeline.export.formats import export_film
from pipeline.report.pictures.side_by_side import ComparedRep, write_side_by_side
from pipeline.report.results import results_folder, write_results
from tests.fixtures.films import dodge_film

REFUSED = [
    "...mp4", "..mp4", "con.mp4", "Com1.mp4", "LPT¹.mov", "nul", "NUL.tape.mp4", "aux .mp4",
    "evening..mp4", "evening .mp4", " .mp4", ".cache.mp4", "crossemetry-files.json.mp4",
    "a\nb.mp4", "a\udc80.mp4",
]  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_a_name_is_refused_with_the_film_and_what_to_do(name):
    with pytest.raises(OutputError, match="another name") as refused:
        checked_stem(Path("film") / name)
    assert str(refused.value).isprintable() or "\n" in name


@pytest.mark.parametrize(
    ("name", "stem"),
    [("shot.mp4", "shot"), (".mp4", ".mp4"), ("...a.mp4", "...a"), ("a.b.MOV", "a.b"),
     ("console.mp4", "console"), ("con1.mp4", "con1"), ("3\u202fh.mp4", "3\u202fh")],
)  # fmt: skip
def test_any_other_name_is_kept_without_its_ending(name, stem):
    assert checked_stem(Path("film") / name) == stem


@pytest.mark.slow
def test_nothing_is_written_above_the_folder_of_results(tmp_path):
    film = dodge_film()[0]
    analysis = film.analysis
    away = replace(analysis, clip=replace(analysis.clip, path=tmp_path / "...mp4"))
    out = tmp_path / "project" / "out"
    side = ComparedRep(analysis=away, result=analysis.reps[0])
    for write in (
        lambda: write_results(away, out, {}),
        lambda: export_film(replace(film, analysis=away), ("csv",), out),
        lambda: write_side_by_side((side, side), out),
        lambda: results_folder(out, away.clip.path, away.clip.digest),
    ):
        with pytest.raises(OutputError, match=r"\.\.\.mp4"):
            write()
    assert list(tmp_path.iterdir()) == []
