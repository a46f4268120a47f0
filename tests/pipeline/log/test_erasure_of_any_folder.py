"""Whatever lies in the folders, and however films are named: only what the program wrote goes."""

from pathlib import Path

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, given, settings

from pipeline.core.errors import OutputError
from pipeline.core.files import VARIABLE
from pipeline.film.container import file_digest
from pipeline.log.athletes import known_athlete
from pipeline.log.personal_data import erase_athlete
from pipeline.log.store import opened_log
from pipeline.report.manifest import MANIFEST_NAME
from tests.fixtures.kept_for import analyse_for, compare_for, export_for, overlay_for

NAMES = ("Dot Kid", "Zed", "Zoë Ångström")
SPELLINGS = {"Dot Kid": "dot  KID", "Zed": "ZED ", "Zoë Ångström": "zoë ångström"}
STEMS = st.one_of(
    st.sampled_from([".", "..", "...", "shot", "SHOT", "con", "a.b", ".cache", "rep_01", "x "]),
    st.text(st.characters(exclude_categories=("Cs", "Cc"), exclude_characters="/\\"), max_size=12),
)
OTHERS = st.sampled_from(
    ["consent.pdf", "notes.txt", "overlay.mp4", "report.html", "reps.json", "rep_09.jpg",
     "film.mp4", "a/b/c.txt", "photos/rep_01.jpg", MANIFEST_NAME + ".bak", ".hidden",
     "deep/report.html", f"{'a' * 32}.txt", "holiday.film.npz"]
)  # fmt: skip
OUTS = ("out", "out/inner", ".")
ACTS = st.lists(
    st.tuples(
        st.sampled_from(["analyse", "overlay", "export", "compare"]),
        st.integers(0, 2), st.sampled_from(NAMES), st.sampled_from(OUTS),
    ),
    min_size=1, max_size=5,
)  # fmt: skip
OVER = st.lists(st.integers(0, 12), max_size=2)
"""Which of the files that the program wrote somebody changes afterwards, those of the cache not."""
PUT = st.lists(st.tuples(OTHERS, st.integers(0, 20), st.binary(max_size=20)), max_size=6)


@pytest.fixture(scope="module")
def clips(tmp_path_factory):
    """Small films as bytes: an analysis that is made up reads only its digest and its pictures."""
    folder = tmp_path_factory.mktemp("clips")
    return [_film(folder / f"{n}.mp4", 8 + n) for n in range(3)]


def _film(path: Path, n_frames: int) -> bytes:
    import av

    from tests.conftest import grey_picture

    with av.open(str(path), "w") as film:
        stream = film.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for number in range(n_frames):
            picture = grey_picture(number, (64, 48))
            film.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        film.mux(stream.encode())
    return path.read_bytes()


def act(log, what, films, number, name, out):
    """Let the program write something, and give the files."""
    film = films[number]
    if what == "analyse":
        return analyse_for(log, film, name, out, out / ".cache")
    if what == "overlay":
        return overlay_for(log, film, name, out)
    if what == "export":
        return export_for(log, film, name, out)
    return compare_for(log, (film, film), (name, name), out)


def put(folder, wanted):
    """Let somebody put files wherever a folder is, over what is there or not."""
    for name, place, content in wanted:
        folders = sorted(
            path for path in folder.rglob("*") if path.is_dir() and "kept" not in path.parts
        )
        path = (folders[place % len(folders)] if folders else folder) / name
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(b"mine " + content)
        except OSError:
            continue  # a file is in the way
        yield path


@pytest.mark.slow
@given(over=OVER, stems=st.lists(STEMS, min_size=3, max_size=3), acts=ACTS, before=PUT, after=PUT,
       spelled=st.booleans())  # fmt: skip
@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_nothing_of_others_goes_and_nothing_of_the_person_stays(
    clips, tmp_path_factory, over, stems, acts, before, after, spelled
):
    folder = tmp_path_factory.mktemp("world")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(VARIABLE, str(folder / "kept"))
        patch.chdir(folder)
        films = []
        for number, (stem, content) in enumerate(zip(stems, clips, strict=True)):
            film = folder / "films" / f"{number}" / f"{stem}.mp4"
            film.parent.mkdir(parents=True)
            film.write_bytes(content)
            films.append(film)
        owner: dict[int, str] = {}
        theirs: dict[Path, str] = {}
        for name, _, content in before:
            path = folder / "out" / name
            if not path.exists() and all(not one.is_file() for one in path.parents):
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(b"mine " + content)
        with opened_log() as log:
            for what, number, wanted, out in acts:
                whose = owner.setdefault(number, wanted)
                shown = SPELLINGS[whose] if spelled else whose
                try:
                    written = act(log, what, films, number, shown, folder / out)
                except OutputError:
                    continue  # the name of the film is refused, or a file is in the way
                theirs.update(dict.fromkeys(written, whose))
            digests = {path: file_digest(path) for path in theirs}
            mine = list(put(folder, after))
            results = [path for path in theirs if path.parent.name != ".cache"]
            for path in [path for number, path in enumerate(results) if number in over]:
                content = path.read_bytes()
                path.write_bytes(content[:-1] + bytes([content[-1] ^ 1]))
                mine.append(path)
            changed = {
                path for path in theirs if not path.is_file() or file_digest(path) != digests[path]
            }
            whole = {
                path: file_digest(path)
                for path in folder.rglob("*")
                if path.is_file()
                and (folder / "kept") not in path.parents
                and path.name != MANIFEST_NAME
            }
            name = NAMES[0]
            with log.reading() as connection:
                is_known = known_athlete(connection, name) is not None
            has_files = any(whose == name for whose in theirs.values())
            if is_known or has_files:
                erase_athlete(log, name)
        own = {path for path, whose in theirs.items() if whose == name and path not in changed}
        left = {
            path: file_digest(path)
            for path in folder.rglob("*")
            if path.is_file()
            and (folder / "kept") not in path.parents
            and path.name != MANIFEST_NAME
        }
        assert not own & set(left)
        assert {path: digest for path, digest in whole.items() if path not in own} == left
        assert set(mine) <= set(left)
        for manifest in folder.rglob(MANIFEST_NAME):
            if manifest not in mine:
                kept = manifest.read_text(encoding="utf-8").casefold()
                assert name.casefold() not in " ".join(kept.split()) or manifest.parent in {
                    path.parent for path in changed
                }
