"""The list's form: steps, archives of every earlier form, newer and damaged ones."""

import hashlib
import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from circuit.plan_json import plan_from_dict
from cli.archive import database
from cli.archive.database import form_number
from cli.archive.design import facts_of
from cli.archive.health import look_over
from cli.archive.migrations import MIGRATIONS, Migration, sql_step, statements
from cli.archive.records import Wanted
from cli.archive.store import Archive
from cli.archive.trouble import ArchiveTroubleError, DamagedArchiveError, NewerArchiveError
from cli.files import FileTroubleError
from tests.cli.archive.made_up import made_up

FROZEN = Path(__file__).parent / "frozen"


def old_archive(folder, form):
    """An archive of an earlier form: the first as it was written down, the later ones by their own steps."""
    shutil.copytree(FROZEN / "version-1-files", folder / "files")
    with closing(sqlite3.connect(folder / "archive.db", isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        for statement in statements((FROZEN / "version-1.sql").read_text(encoding="utf-8")):
            connection.execute(statement)
        database.migrate(connection, folder, MIGRATIONS[:form])
        assert form_number(connection) == form
    return folder


@pytest.mark.parametrize("form", [step.number for step in MIGRATIONS])
def test_an_archive_of_every_earlier_form_opens(tmp_path, form):
    with Archive(old_archive(tmp_path / "old", form), writing=True) as archive:
        assert form_number(archive.connection) == MIGRATIONS[-1].number
        designs = list(archive.find(Wanted(words=("lighth",), tags=("class",))))
        assert [design.title for design in designs] == ["Lighthouse"]
        assert designs[0].facts.doubts == 1
        assert designs[0].facts.tape_mm == pytest.approx(100.0)
        assert [design.title for design in archive.find(Wanted(binned=True))] == ["Campfire"]
        assert look_over(archive).bad == []
        kept = archive.keep(made_up("Today's"))
        assert kept.number == 8  # after the 7 that an emptied bin took


def test_each_step_leaves_its_own_record(tmp_path):
    with Archive(tmp_path / "a", writing=True) as archive:
        rows = archive.connection.execute("SELECT number, name FROM migrations ORDER BY number").fetchall()
    assert [tuple(row) for row in rows] == [(step.number, step.name) for step in MIGRATIONS]


def test_steps_are_numbered_without_a_gap():
    assert [step.number for step in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))


def test_a_step_that_fails_leaves_all_as_it_was(tmp_path, monkeypatch):
    folder = tmp_path / "a"
    with Archive(folder, writing=True) as archive:
        kept = archive.keep(made_up())

    def half_way(connection, folder):
        connection.execute("CREATE TABLE more (x)")
        connection.execute("UPDATE designs SET title = 'spoilt'")
        raise sqlite3.OperationalError("stumbled")

    with closing(sqlite3.connect(folder / "archive.db", isolation_level=None)) as connection:
        steps = (*MIGRATIONS, Migration(len(MIGRATIONS) + 1, "half-way", half_way))
        with pytest.raises(sqlite3.OperationalError, match="stumbled"):
            database.migrate(connection, folder, steps)
        assert form_number(connection) == len(MIGRATIONS)
        assert connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'more'").fetchone() == (0,)
    with Archive(folder, writing=True) as archive:
        assert list(archive.find(Wanted())) == [kept]


def test_statements_are_not_torn_at_semicolons_inside():
    assert list(statements("CREATE TABLE a (b DEFAULT ';');\n-- c;\nSELECT 1;\n")) == [
        "CREATE TABLE a (b DEFAULT ';');\n",
        "-- c;\nSELECT 1;\n",
    ]
    with pytest.raises(ValueError, match="does not end"):
        list(statements("SELECT 1"))


def files_of(folder):
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


@pytest.mark.parametrize("checkpointed", [True, False])
def test_a_newer_archive_is_refused_and_not_touched(tmp_path, checkpointed):
    folder = tmp_path / "a"
    with Archive(folder, writing=True) as archive:
        archive.keep(made_up())
    connection = sqlite3.connect(folder / "archive.db", isolation_level=None)
    if not checkpointed:  # the newer program was killed: its number stands in the write-ahead file only
        connection.execute("PRAGMA wal_autocheckpoint = 0")
    connection.execute("PRAGMA user_version = 99")
    if checkpointed:
        connection.close()
    else:
        shutil.copytree(folder, tmp_path / "b")
        connection.close()
        folder = tmp_path / "b"
        (folder / "archive.db-shm").unlink()
    before = files_of(folder)
    for writing in (True, False):
        with pytest.raises(NewerArchiveError, match="newer Pencilamp"):
            Archive(folder, writing=writing)
    after = files_of(folder)
    if checkpointed:
        assert after == before
    else:  # SQLite folds the write-ahead file in; the designs are untouched, and so is the number
        assert {path: data for path, data in after.items() if "archive.db" not in path.name} == {
            path: data for path, data in before.items() if "archive.db" not in path.name
        }
        with closing(sqlite3.connect(folder / "archive.db")) as again:
            assert form_number(again) == 99


@pytest.mark.parametrize(
    "spoil",
    [
        lambda path: path.unlink(),
        lambda path: path.write_bytes(b""),
        lambda path: path.write_bytes(b"not a list at all" * 100),
        lambda path: path.write_bytes(path.read_bytes()[:5000]),
        lambda path: path.write_bytes(path.read_bytes()[:100] + bytes(len(path.read_bytes()) - 100)),
    ],
    ids=["missing", "emptied", "something else", "cut short", "zeroed"],
)
def test_a_damaged_list_is_said_in_one_sentence(tmp_path, spoil):
    folder = tmp_path / "a"
    with Archive(folder, writing=True) as archive:
        archive.keep_all([made_up(f"Card {i}", shade=i) for i in range(30)])
    spoil(folder / "archive.db")
    before = files_of(folder)
    for writing in (True, False):
        with pytest.raises(DamagedArchiveError) as caught, Archive(folder, writing=writing) as archive:
            list(archive.find(Wanted()))
            look_over(archive)
        assert str(caught.value).count("\n") == 0
        assert "archive mend" in str(caught.value)
        assert caught.value.exit_code == 4
    assert {path for path in before if "archive.db" not in path.name} <= set(files_of(folder))


def test_another_programs_list_is_not_taken_over(tmp_path):
    folder = tmp_path / "a"
    folder.mkdir()
    with closing(sqlite3.connect(folder / "archive.db")) as connection:
        connection.execute("CREATE TABLE recipes (name)")
        connection.execute("PRAGMA user_version = 1")
        connection.commit()
    before = files_of(folder)
    with pytest.raises(ArchiveTroubleError):
        Archive(folder, writing=True)
    assert files_of(folder) == before


def test_a_file_in_the_folders_place(tmp_path):
    (tmp_path / "a").write_bytes(b"here first")
    with pytest.raises(FileTroubleError, match="in the way"):
        Archive(tmp_path / "a", writing=True)
    assert (tmp_path / "a").read_bytes() == b"here first"


def test_the_list_is_write_ahead_with_foreign_keys(tmp_path):
    with Archive(tmp_path / "a", writing=True) as archive:
        assert archive.connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert archive.connection.execute("PRAGMA foreign_keys").fetchone()[0] == 1
        assert archive.connection.execute("PRAGMA synchronous").fetchone()[0] == 2
        with pytest.raises(sqlite3.IntegrityError):
            archive.connection.execute("INSERT INTO design_files VALUES (99, 'x', 'other', 'y', 0)")


def test_the_frozen_files_are_what_their_names_say():
    paths = [path for path in (FROZEN / "version-1-files").rglob("*") if path.is_file()]
    assert len(paths) == 3
    for path in paths:
        assert hashlib.sha256(path.read_bytes()).hexdigest() == path.name


def test_sql_steps_say_what_they_cannot_find(tmp_path):
    with closing(sqlite3.connect(":memory:")) as connection, pytest.raises(FileNotFoundError):
        sql_step("000_nothing.sql")(connection, tmp_path)


def test_the_frozen_plans_still_read():
    contents = [path.read_bytes() for path in (FROZEN / "version-1-files").rglob("*") if path.is_file()]
    plans = [plan_from_dict(json.loads(data)) for data in contents if data.startswith(b"{")]
    assert {facts_of(plan).lights for plan in plans} == {1, 2}
