"""`check` names what is wrong; `mend` sets it right, or copies all files out."""

import os
import shutil
import sys

import pytest

from cli.archive.archive_folder import LIST_NAME, SET_ASIDE_NAME
from cli.archive.contact_sheets import contact_sheets
from cli.archive.mend import copy_out, mend
from cli.archive.printed import health_lines
from cli.archive.questions import Wanted
from cli.archive.slips import slip_path
from cli.archive.store import Archive
from cli.archive.take_out import lay_out, take_out
from cli.file_trouble import FileTroubleError
from tests.cli.archive.made_up import designs_in, files_of, looked_over, made_up, tiny_jpeg


def path_of(folder, design, role):
    with Archive(folder, writing=False) as archive:
        return archive.shelf.path(design.file(role).sha256)


def test_damaged_and_missing_files_are_named_with_their_designs(folder):
    designs = designs_in(folder)
    path_of(folder, designs[3], "photo").unlink()
    spoilt = path_of(folder, designs[4], "photo")
    data = bytearray(spoilt.read_bytes())
    data[len(data) // 2] ^= 1  # one bit
    spoilt.write_bytes(data)
    path_of(folder, designs[0], "overlay").write_bytes(b"cut")  # all twelve share it
    health = looked_over(folder)
    found = {(bad.file.name, bad.state, len(bad.designs)) for bad in health.bad}
    assert found == {
        ("harbour.jpg", "missing", 1),
        ("harbour.jpg", "damaged", 1),
        ("overlay.png", "damaged", 12),
    }
    text = " ".join(" ".join(health_lines(health, 80)).split())
    assert "harbour.jpg of Card 3 (number 4) is missing" in text
    assert "Card 0 (number 1), Card 1 (number 2), Card 2 (number 3) and 9 more" in text
    with Archive(folder, writing=False) as archive, pytest.raises(FileTroubleError, match="missing"):
        archive.read_file(designs[3], designs[3].file("photo"))


def test_missing_files_are_found_again_by_their_content(folder, tmp_path):
    designs = designs_in(folder)
    path_of(folder, designs[3], "photo").unlink()
    path_of(folder, designs[4], "photo").write_bytes(b"spoilt")
    path_of(folder, designs[5], "photo").unlink()
    pictures = tmp_path / "pictures" / "2026"
    pictures.mkdir(parents=True)
    (pictures / "renamed since.jpg").write_bytes(tiny_jpeg(3))
    (pictures / "other.jpg").write_bytes(tiny_jpeg(4))
    mended = mend(folder, tmp_path / "pictures")
    assert (mended.found, mended.still_bad) == (2, 1)
    health = looked_over(folder)
    assert [bad.designs[0].title for bad in health.bad] == ["Card 5"]
    assert designs_in(folder) == designs


def test_leftovers_are_tidied_but_nothing_is_deleted(folder):
    designs = designs_in(folder)
    with Archive(folder, writing=True) as archive:
        loose = archive.shelf.put(made_up(shade=200).files[3].open())
        (archive.shelf.folder / "part-abc").write_bytes(b"half")
        shutil.copy(slip_path(folder, 1), slip_path(folder, 1).with_name("copy of 1.json"))
    health = looked_over(folder)
    assert health.loose == [loose.sha256]
    assert (len(health.parts), len(health.stray_slips)) == (1, 1)
    assert not health.bad
    mend(folder)
    after = looked_over(folder)
    assert not after.leftovers
    assert designs_in(folder) == designs
    aside = list((folder / SET_ASIDE_NAME).rglob("*.jpg"))
    assert [path.read_bytes() for path in aside] == [tiny_jpeg(200)]
    assert mend(folder).aside == []


def test_a_damaged_slip_is_written_again_from_what_the_list_still_says(folder):
    designs = designs_in(folder)
    for number, data in ((3, b"{}"), (5, b"\0\0")):
        slip_path(folder, number).unlink()
        slip_path(folder, number).write_bytes(data)
    health = looked_over(folder)
    assert [number for number, _ in health.bad_slips] == [3, 5]
    assert "slip of design number 5 is damaged" in " ".join(" ".join(health_lines(health, 80)).split())
    mended = mend(folder)
    assert (mended.slips, mended.lost_slips) == (2, [])
    assert designs_in(folder) == designs
    assert not looked_over(folder).bad_slips
    assert len(list((folder / SET_ASIDE_NAME).rglob("*.json"))) == 2


def test_where_both_are_lost_it_is_said_and_the_files_stay(folder):
    designs = designs_in(folder)
    slip_path(folder, 5).write_bytes(b"\0\0")
    (folder / LIST_NAME).unlink()
    mended = mend(folder)
    assert mended.lost_slips == ["slip 5: it is no slip, or damaged"]
    assert designs_in(folder) == [design for design in designs if design.number != 5]
    assert tiny_jpeg(4) in [path.read_bytes() for path in (folder / SET_ASIDE_NAME).rglob("*.jpg")]
    assert not looked_over(folder).leftovers


def test_slips_in_a_wrong_place_are_taken_in_or_set_aside(folder):
    designs = designs_in(folder)
    slips = slip_path(folder, 1).parent
    slip_path(folder, 4).rename(slips / "4 (copy).json")
    slip_path(folder, 6).rename(slips / "six.json")
    shutil.copy(slip_path(folder, 1), slips / "1 again.json")
    (slips.parent / "note.txt").write_text("mine")
    (slips / "\u0661.json").write_bytes(slip_path(folder, 2).read_bytes())
    mended = mend(folder)
    assert mended.slips == 2
    assert [design.title for design in designs_in(folder)][-2:] == ["Card 3", "Card 5"]
    assert {design.identity for design in designs_in(folder)} == {design.identity for design in designs}
    assert "mine" in [path.read_text(errors="replace") for path in (folder / SET_ASIDE_NAME).rglob("*.txt")]
    assert not looked_over(folder).leftovers


def test_all_files_are_copied_out_of_a_damaged_archive(folder, tmp_path):
    (folder / LIST_NAME).write_bytes(b"ruined")
    before = files_of(folder)
    assert copy_out(folder, tmp_path / "out") == (12, 48)
    assert (tmp_path / "out" / "Card 7" / "harbour.jpg").read_bytes() == tiny_jpeg(7)
    assert len(list((tmp_path / "out").iterdir())) == 12
    assert files_of(folder) == before
    assert (folder / LIST_NAME).read_bytes() == b"ruined"
    with pytest.raises(FileTroubleError, match="already"):
        copy_out(folder, tmp_path / "out")


def test_files_come_out_even_where_slips_are_gone_too(folder, tmp_path):
    (folder / LIST_NAME).unlink()
    shutil.rmtree(folder / "slips")
    _, files = copy_out(folder, tmp_path / "out")
    assert files == 15  # each content once: 12 photos, plan, overlay, sheet
    endings = sorted(path.suffix for path in (tmp_path / "out" / "loose").iterdir())
    assert endings == [".jpg"] * 12 + [".json", ".pdf", ".png"]


def test_no_archive_at_all_is_said(tmp_path):
    for work in (lambda: mend(tmp_path / "none"), lambda: copy_out(tmp_path / "none", tmp_path / "out")):
        with pytest.raises(FileTroubleError, match="no archive"):
            work()
    assert list(tmp_path.iterdir()) == []


def in_its_place(path, kind):
    shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)
    if kind == "folder":
        path.mkdir()
        (path / "mine").write_bytes(b"mine")
    elif kind == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to("/dev/zero" if kind == "endless" else "nowhere")


@pytest.mark.skipif(sys.platform == "win32", reason="no pipes there, and links need rights")
@pytest.mark.parametrize("kind", ["folder", "pipe", "endless", "dangling link"])
@pytest.mark.parametrize(
    "name",
    ["archive.db", "archive.lock", ".pencilamp-set.json", "last-number.txt", "slips/000/2.json", "photo"],
)
def test_strange_things_in_the_archives_folder_stop_nothing(folder, tmp_path, name, kind):
    designs = designs_in(folder)
    in_its_place(path_of(folder, designs[1], "photo") if name == "photo" else folder / name, kind)
    assert designs_in(folder) == designs
    with Archive(folder, writing=True) as archive:
        assert archive.keep(made_up("Next", shade=99)).number == 13
    mend(folder)
    copy_out(folder, tmp_path / "out")
    health = looked_over(folder)
    assert (health.bad_slips, health.leftovers, len(health.bad)) == ([], 0, int(name == "photo"))
    assert designs_in(folder)[:12] == designs
    if kind == "folder" and name not in ("archive.lock", "last-number.txt", "photo"):
        assert [path.read_bytes() for path in (folder / SET_ASIDE_NAME).rglob("mine")] == [b"mine"]


def test_the_folder_of_slips_is_a_file(folder):
    in_its_place(folder / "slips", "dangling link")
    for writing in (True, False):
        with pytest.raises(FileTroubleError, match="slips"):
            Archive(folder, writing=writing)


@pytest.mark.parametrize("data", [b"9" * 5000, b"999999999999", b"-5", b"\xff", b"1e5", b""])
def test_a_last_number_that_is_none_is_passed_over(folder, data):
    (folder / "last-number.txt").write_bytes(data)
    with Archive(folder, writing=True) as archive:
        assert archive.keep(made_up("Next")).number == 13


def test_nothing_is_written_into_the_archives_own_folder(folder):
    before = files_of(folder)
    slip = slip_path(folder, 1)
    with Archive(folder, writing=False) as archive:
        for work in (
            lambda: take_out(archive, [archive.pick("2")], slip, whole_photos=True, replace_it=True),
            lambda: lay_out(archive, archive.pick("2"), folder / "files", whole_photos=True, replace_it=True),
            lambda: contact_sheets(archive, Wanted(), None, folder / "files" / "a.png", True, "kept"),
            lambda: copy_out(folder, folder / "out"),
        ):
            with pytest.raises(FileTroubleError, match="own folder"):
                work()
    assert files_of(folder) == before
