"""A log of the version before opens with the same marks, reasons and ranges, in both languages.

``log_form_0004.sql`` was written by the program when form 0004 was the newest; ``.json`` beside it
holds the keys and the bounds that went into it, taken before they became sentences.
"""

import ast
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import MetaData, create_engine, insert, select

from pipeline.core.files import VARIABLE
from pipeline.core.messages import message_of, shipped
from pipeline.core.written_range import written_range_of
from pipeline.feedback.words import load_words, range_text
from pipeline.log import migrate as migrating
from pipeline.log.location import log_url
from pipeline.log.marks import find_rep, marks_of
from pipeline.log.migrate import migrate
from pipeline.log.migrations.versions import rev_0006
from pipeline.log.schema import FLAGS, MEASURES, REPS
from pipeline.log.store import engine_for, opened_log
from pipeline.log.stored_reps import stored_range
from tests.fixtures.reviewed import context_of, page_of
from tests.pipeline.web.review.test_spanish_pages import shown

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
PUT_IN = json.loads((FIXTURES / "log_form_0004.json").read_text(encoding="utf-8"))
LANGUAGES = ("en", "es")


@pytest.fixture(scope="module")
def before(tmp_path_factory):
    """The file of the version before."""
    path = tmp_path_factory.mktemp("before") / "log.sqlite3"
    with closing(sqlite3.connect(path)) as database:
        database.executescript((FIXTURES / "log_form_0004.sql").read_text(encoding="utf-8"))
    return path


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.database)])
def log(request, before, tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "data"))
    if request.param == "postgresql":
        address = request.getfixturevalue("postgresql")
        fill_server(address, before)
    else:
        path = tmp_path / "log.sqlite3"
        path.write_bytes(before.read_bytes())
        address = f"sqlite:///{path}"
    with opened_log(address) as opened:
        yield opened


def fill_server(address, before):
    """Put the rows of the file into tables of the same form on a server."""
    file, engine = create_engine(f"sqlite:///{before}"), engine_for(log_url(address))
    with file.connect() as source, engine.begin() as target:
        target.exec_driver_sql("DROP SCHEMA public CASCADE")
        target.exec_driver_sql("CREATE SCHEMA public")
        migrate(target, "0004")
        tables = MetaData()
        tables.reflect(source)
        for table in tables.sorted_tables:
            rows = [dict(row) for row in source.execute(select(table)).mappings()]
            if rows and table.name != "alembic_version":
                target.execute(insert(table), rows)
    file.dispose()
    engine.dispose()


def kept(log):
    """Rows of measures by clip, rep and key, as the file beside the dump names them."""
    with log.reading() as connection:
        query = select(REPS.c.clip_id, REPS.c.number, MEASURES).join(MEASURES)
        rows = connection.execute(query).mappings().all()
    return {f"{row['clip_id']}/{row['number']}/{row['key']}": row for row in rows}


@pytest.mark.slow
def test_reasons_are_kept_by_key_and_read_the_same_in_both_languages(log):
    rows = kept(log)
    assert rows.keys() == PUT_IN.keys()
    for place, was in PUT_IN.items():
        reason = rows[place]["reason"]
        assert (reason is None) == (was["reason"] is None)
        if reason is None:
            continue
        assert ("key" in reason) == ("key" in was["reason"]), place
        for language in LANGUAGES:
            texts = shipped(language)
            assert texts.translate(message_of(reason)) == texts.translate(message_of(was["reason"]))


@pytest.mark.slow
def test_ranges_are_kept_as_bounds_with_their_units(log):
    ranges = {place: row["target_range"] for place, row in kept(log).items()}
    assert ranges == {place: was["range"] for place, was in PUT_IN.items()}


@pytest.mark.slow
def test_what_was_no_sentence_of_the_program_is_shown_as_it_is(log):
    row = kept(log)["1/2/turn_away_deg"]
    assert row["reason"] == {"text": "the ball was of the wrong colour"}
    kept_so = kept(log)["1/2/release_height_m"]["target_range"]
    for language in LANGUAGES:
        words = load_words(language=language)
        assert (
            range_text(words, stored_range("release_height_m", kept_so)) == "0.94 to 1.2 of statur"
        )


@pytest.mark.slow
def test_marks_and_flags_are_as_they_were(log, before):
    names = ("id", "kind", "by", "measure", "program", "why", "move", "text", "undoes")
    with closing(sqlite3.connect(before)) as database:
        columns = ", ".join(f'"{name}"' for name in names)
        marks = database.execute(f"SELECT {columns} FROM review_marks ORDER BY id").fetchall()
        flags = database.execute("SELECT rep_id, kind, open, score, measure FROM flags").fetchall()
    with log.reading() as connection:
        reps = [find_rep(connection, 1, number) for number in (1, 2, 3)]
        found = [mark for rep in reps for mark in marks_of(connection, rep)]
        columns = (FLAGS.c[name] for name in ("rep_id", "kind", "open", "score", "measure"))
        assert sorted(map(tuple, connection.execute(select(*columns)))) == sorted(flags)
    assert sorted(tuple(getattr(mark, name) for name in names) for mark in found) == marks


@pytest.mark.slow
@pytest.mark.parametrize("language", LANGUAGES)
def test_the_pages_show_them(log, language):
    words = load_words(language=language)
    page = page_of(context_of(log, language=language))
    queue = shown(page.get("/").text)
    # The worst number of a rep stands in the queue with its range.
    assert words.translate(written_range_of(PUT_IN["1/2/step_back_m"]["range"]).words()) in queue
    own = stored_range("step_back_m", PUT_IN["1/1/step_back_m"]["range"])
    assert range_text(words, own) in queue
    reps = dict.fromkeys(place.rpartition("/")[0] for place in PUT_IN)
    of_rep = {rep: shown(page.get("/clip/{}/rep/{}".format(*rep.split("/"))).text) for rep in reps}
    for place, was in PUT_IN.items():
        rep, _, key = place.rpartition("/")
        page_text = of_rep[rep]
        if was["reason"] is not None:
            assert words.translate(message_of(was["reason"])) in page_text
        if was["range"] is not None:
            assert range_text(words, stored_range(key, was["range"])) in page_text


def test_how_texts_were_kept_before_does_not_hang_on_the_catalogue_of_today():
    tree = ast.parse(Path(rev_0006.__file__).read_text(encoding="utf-8"))
    names = {
        name
        for node in ast.walk(tree)
        if isinstance(node, (ast.Import, ast.ImportFrom))
        for name in [getattr(node, "module", None), *(one.name for one in node.names)]
        if name
    }
    assert not {name for name in names if name.startswith("pipeline")}


@pytest.mark.parametrize(
    "text", ["", "no plant", "the instant of 'plant' was not found.", "1 to 2"]
)
def test_a_reason_that_is_none_stays_a_text(text):
    assert rev_0006.reason_document(text) == {"text": text}


@pytest.mark.parametrize("text", ["", "0.94 to 1.2 of stat", "as I teach it", "at least fast"])
def test_a_range_that_is_none_stays_a_text(text):
    assert rev_0006.range_document(text) == {"text": text}


def test_a_log_without_measures_is_brought_up_too(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "data"))
    address = f"sqlite:///{tmp_path}/log.sqlite3"
    engine = engine_for(log_url(address))
    with engine.begin() as connection:
        migrate(connection, "0004")
    engine.dispose()
    with opened_log(address) as opened, opened.reading() as connection:
        assert migrating.schema_version(connection, opened.url) == migrating.HEAD
