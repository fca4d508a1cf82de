"""The list is a cache: missing, damaged, behind, of an earlier form, it is made anew and nothing is lost with it."""

import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest

from cli.archive import design_list, questions
from cli.archive.archive_folder import LIST_FILES, LIST_NAME
from cli.archive.design_list import FORM
from cli.archive.health import look_over
from cli.archive.open_list import list_in_memory
from cli.archive.questions import Wanted
from cli.archive.slips import slip_bytes, slip_path
from cli.archive.store import Archive
from cli.archive.trouble import NotOurListError
from cli.file_trouble import FileTroubleError
from cli.files import UNFINISHED_NAME
from tests.cli.archive.made_up import designs_in, files_of, made_up, old_archive

TABLES = ("slips", "designs", "texts", "tags", "files", "words", "damaged")


def is_made_anew(folder):
    """Whether the list on the disk is as one made of the slips alone."""
    with closing(sqlite3.connect(folder / LIST_NAME)) as there, closing(list_in_memory(folder)) as fresh:
        there, fresh = (
            [sorted(map(repr, one.execute(f"SELECT * FROM {table}"))) for table in TABLES]
            for one in (there, fresh)
        )
        return there == fresh


SPOILT = {
    "missing": lambda path: path.unlink(),
    "emptied": lambda path: path.write_bytes(b""),
    "something else": lambda path: path.write_bytes(b"not a list at all" * 100),
    "cut short": lambda path: path.write_bytes(path.read_bytes()[:5000]),
    "zeroed": lambda path: path.write_bytes(path.read_bytes()[:100] + bytes(path.stat().st_size - 100)),
}


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT)
@pytest.mark.parametrize("writing", [True, False])
def test_a_lost_list_is_made_anew(folder, spoil, writing):
    designs = designs_in(folder)
    spoil(folder / LIST_NAME)
    assert designs_in(folder, writing=writing) == designs
    assert is_made_anew(folder)
    with Archive(folder, writing=True) as archive:
        assert archive.count(Wanted(words=("card",), tags=("class",))) == 10
        assert archive.count(Wanted(binned=True)) == 2
        assert archive.keep(made_up("Next")).number == 13
        assert not look_over(archive).leftovers


def test_a_list_that_is_spoilt_somewhere_inside(folder):
    designs = designs_in(folder)
    path = folder / LIST_NAME
    whole = path.read_bytes()
    for at in range(4096, len(whole), 4096):  # each page but the first
        path.write_bytes(whole[:at] + b"\xa5" * 4096 + whole[at + 4096 :])
        with Archive(folder, writing=False) as archive:
            look_over(archive)
        assert is_made_anew(folder), at
        assert designs_in(folder) == designs


@pytest.mark.parametrize(
    "spoil",
    [
        "DROP TABLE words",
        "DROP TABLE designs",
        "DELETE FROM slips",
        "UPDATE texts SET slip = '{}' WHERE number = 3",
        "UPDATE texts SET slip = x'ff00'",
        "UPDATE texts SET slip = '[' WHERE number = 3",
        'CREATE TABLE "\ufffd" (x)',
    ],
)
def test_a_list_with_tables_or_rows_that_are_none(folder, spoil):
    designs = designs_in(folder)
    with closing(sqlite3.connect(folder / LIST_NAME, isolation_level=None)) as connection:
        connection.execute(spoil)
    assert designs_in(folder) == designs
    with Archive(folder, writing=True) as archive:
        assert archive.count(Wanted(words=("card",))) == 10
        assert archive.keep(made_up("Next")).number == 13


def test_what_a_lost_write_ahead_log_held_is_there_all_the_same(folder, tmp_path):
    """A list as it was before the last designs, as after a power cut."""
    for name in LIST_FILES:
        if (folder / name).exists():
            shutil.copy(folder / name, tmp_path / name)
    with Archive(folder, writing=True) as archive:
        late = archive.keep_all([made_up("Late", shade=200), made_up("Later", shade=201)])
        archive.relabel(1, lambda design: replace(design, title="Otherwise"))
    for name in LIST_FILES:
        (folder / name).unlink(missing_ok=True)
        if (tmp_path / name).exists():
            shutil.copy(tmp_path / name, folder / name)
    designs = designs_in(folder)
    assert designs[-2:] == late
    assert designs[0].title == "Otherwise"


def test_slips_that_come_and_go_are_noticed(folder):
    designs = designs_in(folder)
    slip_path(folder, 3).unlink()
    slip_path(folder, 700_000).parent.mkdir()
    slip_path(folder, 700_000).write_bytes(slip_bytes(replace(designs[2], number=700_000, title="Moved")))
    found = designs_in(folder)
    assert [design.number for design in found] == [1, 2, *range(4, 13), 700_000]
    assert found[-1].title == "Moved"
    with Archive(folder, writing=True) as archive:
        assert archive.keep(made_up("Next")).number == 700_001


@pytest.mark.parametrize("data", [b"", b"\0\0", b"{}", b"[" * 100_000, b"\xff\xfe", b'{"schema": 7}'])
def test_one_damaged_slip_never_stops_the_others(folder, data):
    designs = designs_in(folder)
    with Archive(folder, writing=True) as archive:  # by a new file, as whatever damages it would hardly do
        slip_path(folder, 5).unlink()
        slip_path(folder, 5).write_bytes(data)
    with Archive(folder, writing=False) as archive:
        assert [number for number, _ in archive.ask(questions.damaged)] == [5]
        assert (
            sorted(archive.every_design(), key=lambda design: design.number) == designs
        )  # as the slip said before
    (folder / LIST_NAME).unlink()
    with Archive(folder, writing=True) as archive:
        assert [number for number, _ in archive.ask(questions.damaged)] == [5]
        assert archive.count(Wanted()) == 9
        assert archive.keep(made_up("Next")).number == 13


def test_a_date_that_no_clock_tells_stops_nothing(folder):
    for number, year in ((2, "999"), (3, "0001"), (4, "2526"), (5, "9999")):
        slip = json.loads(slip_path(folder, number).read_bytes())
        slip["kept"] = f"{year}{slip['kept'][4:]}"
        slip_path(folder, number).unlink()
        slip_path(folder, number).write_text(json.dumps(slip))
    (folder / LIST_NAME).unlink()
    found = {design.number: design.kept.year for design in designs_in(folder)}
    assert [found[number] for number in (1, 2, 3, 4, 5)] == [2026, 1970, 1970, 2106, 2106]
    with Archive(folder, writing=True) as archive:
        assert not look_over(archive).bad_slips
        archive.remove([archive.pick("2")])


def test_a_number_is_not_given_twice_though_the_list_is_lost(folder):
    with Archive(folder, writing=True) as archive:
        last = archive.keep(made_up("Last"))
        archive.remove([last])
        archive.empty_bin(list(archive.find(Wanted(binned=True))))
    (folder / LIST_NAME).unlink()
    with Archive(folder, writing=True) as archive:
        assert archive.keep(made_up("Next")).number == last.number + 1


NOTES = {
    "empty": b"",
    "of nothing": b"{}",
    "cut short": b"[",
    "that leads out": b'{"parts": {"../../x": ".pencilamp-1.part"}, "gone": []}',
    "of another file": b'{"parts": {}, "gone": ["read-me.txt"]}',
    "that leads round": b'{"parts": {}, "gone": ["slips/000/../../x"]}',
}


@pytest.mark.parametrize("note", NOTES.values(), ids=NOTES)
def test_a_note_of_changes_that_is_not_ours_leads_nowhere(folder, note):
    before = files_of(folder)
    designs = designs_in(folder)
    (folder / UNFINISHED_NAME).write_bytes(note)
    assert designs_in(folder) == designs
    assert before.items() <= files_of(folder).items()


# Earlier forms.


@pytest.mark.parametrize("form", range(1, FORM))
def test_an_archive_of_every_earlier_form_opens(tmp_path, form):
    folder = old_archive(tmp_path / "old", form)
    before = files_of(folder)
    with Archive(folder, writing=False, untouched=True) as archive:
        assert {design.title for design in archive.every_design()} == {"Lighthouse", "Campfire"}
    assert files_of(folder) == before
    with Archive(folder, writing=True) as archive:
        designs = list(archive.find(Wanted(words=("lighth",), tags=("class",))))
        assert [design.title for design in designs] == ["Lighthouse"]
        assert designs[0].facts.doubts == 1
        assert designs[0].facts.tape_mm == pytest.approx(100.0)
        assert [design.title for design in archive.find(Wanted(binned=True))] == ["Campfire"]
        assert look_over(archive).bad == []
        kept = archive.keep(made_up("Today's"))
        assert kept.number == 8  # after the 7 that an emptied bin took
    assert list((folder / "set-aside").rglob(LIST_NAME))  # the old list stays
    assert is_made_anew(folder)


def test_a_damaged_list_of_an_earlier_form_gives_what_can_be_read(tmp_path):
    folder = old_archive(tmp_path / "old", 3)
    with closing(sqlite3.connect(folder / LIST_NAME, isolation_level=None)) as connection:
        connection.execute("UPDATE designs SET title = CAST(x'ff4c' AS TEXT) WHERE title = 'Campfire'")
        connection.execute("DROP TABLE words")
    assert {design.title for design in designs_in(folder)} == {"Lighthouse", "\ufffdL"}
    (folder / LIST_NAME).write_bytes((folder / LIST_NAME).read_bytes()[:3000])
    assert {design.title for design in designs_in(folder)} == {"Lighthouse", "\ufffdL"}


@pytest.mark.parametrize("checkpointed", [True, False])
def test_a_newer_archive_is_refused_and_not_touched(tmp_path, checkpointed):
    folder = tmp_path / "a"
    with Archive(folder, writing=True) as archive:
        archive.keep(made_up())
    connection = sqlite3.connect(folder / LIST_NAME, isolation_level=None)
    if not checkpointed:  # the newer program was killed: its number stands in the write-ahead file only
        connection.execute("PRAGMA wal_autocheckpoint = 0")
    connection.execute("PRAGMA user_version = 99")
    if checkpointed:
        connection.close()
    else:
        shutil.copytree(folder, tmp_path / "b")
        connection.close()
        folder = tmp_path / "b"
        (folder / "archive.db-shm").unlink(missing_ok=True)
    before = files_of(folder)
    for writing in (True, False):
        with pytest.raises(NotOurListError, match="newer Pencilamp"):
            Archive(folder, writing=writing)
    assert files_of(folder) == before  # SQLite folds a write-ahead file into the list; its number stays
    with closing(sqlite3.connect(folder / LIST_NAME)) as again:
        assert design_list.form_number(again) == 99


def test_another_programs_list_is_not_taken_over(tmp_path):
    folder = tmp_path / "a"
    folder.mkdir()
    with closing(sqlite3.connect(folder / LIST_NAME)) as connection:
        connection.execute("CREATE TABLE recipes (name)")
        connection.execute("PRAGMA user_version = 1")
        connection.commit()
    before = files_of(folder)
    for writing in (True, False):
        with pytest.raises(FileTroubleError, match="not Pencilamp's"):
            Archive(folder, writing=writing)
    assert files_of(folder) == before


def test_looking_into_any_folder_leaves_nothing_there(tmp_path):
    (tmp_path / "holiday.jpg").write_bytes(b"mine")
    assert designs_in(tmp_path) == []
    assert [path.name for path in tmp_path.iterdir()] == ["holiday.jpg"]


def test_a_file_in_the_folders_place(tmp_path):
    (tmp_path / "a").write_bytes(b"here first")
    with pytest.raises(FileTroubleError, match="in the way"):
        Archive(tmp_path / "a", writing=True)
    assert (tmp_path / "a").read_bytes() == b"here first"
