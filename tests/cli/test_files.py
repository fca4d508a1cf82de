"""Files are written whole or not at all, and a plan that can't be read says so in one sentence."""

import errno
import json
import os
import signal
import stat
import tempfile
from pathlib import Path

import pytest

import cli.files
from circuit.errors import LayoutFileError
from circuit.layout import Card, Layout, LightMark
from circuit.plan import Plan
from circuit.plan_json import plan_to_dict
from cli.file_sets import finish_set, is_unfinished, write_set
from cli.file_trouble import FileTroubleError
from cli.files import json_bytes, working_folder, write_files, write_whole
from cli.plan_file import read_plan

PLAN = Plan(Layout(Card(107.95, 139.7), (LightMark("L1", 30.0, 40.0),)))


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_plan_comes_back_from_its_file_and_from_its_folder(tmp_path):
    write_whole(tmp_path / "harbour" / "plan.json", json_bytes(plan_to_dict(PLAN)))
    assert read_plan(tmp_path / "harbour" / "plan.json") == PLAN
    assert read_plan(tmp_path / "harbour") == PLAN
    assert names_in(tmp_path / "harbour") == ["plan.json"]


def test_a_file_name_that_is_no_unicode_survives_in_json():
    value = {"photo": "caf\udce9 é.jpg"}
    assert json.loads(json_bytes(value).decode("utf-8")) == value


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "not a plan"),
        (b"not json", "not a plan"),
        (b"\xff\xd8\xff\xe0 a picture", "not a plan"),
        (b"[" * 100_000, "not a plan"),
        (b"[]", "braces"),
        (b'{"schema": "pencilamp/plan/9"}', "pencilamp/plan/9"),
        (b'{"schema": "pencilamp/plan/1", "card": {"width_mm": NaN, "height_mm": 5}}', "card.width_mm"),
        (
            b'{"schema": "pencilamp/plan/1", "card": {"width_mm": 1' + b"0" * 400 + b', "height_mm": 5}}',
            "plan",
        ),
    ],
    ids=["empty", "text", "picture", "deep", "list", "later schema", "nan", "long number"],
)
def test_what_is_no_plan_is_refused_by_name(tmp_path, content, words):
    path = tmp_path / "odd.json"
    path.write_bytes(content)
    with pytest.raises(LayoutFileError, match=r"odd\.json") as caught:
        read_plan(path)
    assert words in str(caught.value)
    assert caught.value.exit_code == 4


def test_missing_files_and_folders_without_a_plan_are_named(tmp_path):
    with pytest.raises(FileTroubleError, match="no such file"):
        read_plan(tmp_path / "gone.json")
    with pytest.raises(FileTroubleError, match=r"no plan\.json in this folder"):
        read_plan(tmp_path)
    with pytest.raises(FileTroubleError):
        read_plan(Path("a\0b"))


def test_a_huge_file_is_refused_without_being_read_whole(tmp_path):
    path = tmp_path / "huge.json"
    with path.open("wb") as file:
        file.truncate(40_000_000_000)  # sparse: takes no room
    with pytest.raises(FileTroubleError, match="too big"):
        read_plan(path)


def test_a_set_is_new_as_a_whole(tmp_path):
    (tmp_path / "plan.json").write_bytes(b"old plan")
    write_files({tmp_path / "overlay.png": b"new picture", tmp_path / "plan.json": b"new plan"})
    assert (tmp_path / "overlay.png").read_bytes() == b"new picture"
    assert (tmp_path / "plan.json").read_bytes() == b"new plan"
    assert names_in(tmp_path) == ["overlay.png", "plan.json"]


def _fails_at(monkeypatch, which, number):
    """Let the `which`-th flush to disk fail with that error number."""
    real = os.fsync
    calls = []

    def fsync(handle):
        calls.append(handle)
        if len(calls) == which:
            raise OSError(number, os.strerror(number))
        return real(handle)

    monkeypatch.setattr(cli.files.os, "fsync", fsync)


def test_a_full_disk_leaves_everything_as_it_was(tmp_path, monkeypatch):
    (tmp_path / "plan.json").write_bytes(b"old plan")
    _fails_at(monkeypatch, 4, errno.ENOSPC)  # two new folders, the first file, then this
    with pytest.raises(FileTroubleError, match="disk is full"):
        write_files({tmp_path / "deep" / "new" / "a.png": b"x", tmp_path / "plan.json": b"new plan"})
    assert (tmp_path / "plan.json").read_bytes() == b"old plan"
    assert names_in(tmp_path) == ["plan.json"]  # the folders made on the way are gone too


def test_a_file_that_breaks_off_half_way_leaves_everything_as_it_was(tmp_path):
    resource = pytest.importorskip("resource")
    (tmp_path / "sheet.pdf").write_bytes(b"old sheet")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, before[1]))  # a real write that fails after 4 kB
    try:
        with pytest.raises(FileTroubleError, match=r"sheet\.pdf.*no file of this size"):
            write_files({tmp_path / "plan.json": b"x", tmp_path / "sheet.pdf": b"x" * 100_000})
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, ignored)
    assert names_in(tmp_path) == ["sheet.pdf"]
    assert (tmp_path / "sheet.pdf").read_bytes() == b"old sheet"


def test_a_rename_that_fails_puts_back_the_ones_before(tmp_path, monkeypatch):
    for name in ("a", "b", "c"):
        (tmp_path / name).write_bytes(b"old " + name.encode())
    real = Path.replace

    def replace(self, target):
        if Path(target).name == "c" and self.suffix == ".part":
            raise PermissionError(errno.EACCES, "open elsewhere")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    with pytest.raises(FileTroubleError, match="may not use it"):
        write_files({tmp_path / name: b"new" for name in ("a", "b", "fresh", "c")})
    assert {name: (tmp_path / name).read_bytes() for name in names_in(tmp_path)} == {
        "a": b"old a",
        "b": b"old b",
        "c": b"old c",
    }


def test_a_stop_by_the_maker_leaves_nothing_behind(tmp_path, monkeypatch):
    def stop(handle):
        raise KeyboardInterrupt

    monkeypatch.setattr(cli.files.os, "fsync", stop)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "sheets" / "sheet.pdf", b"x")
    assert names_in(tmp_path) == []


def test_folders_in_the_way_and_files_in_the_way_are_said(tmp_path):
    (tmp_path / "plan.json").mkdir()
    with pytest.raises(FileTroubleError, match="a folder of this name"):
        write_whole(tmp_path / "plan.json", b"x")
    (tmp_path / "file").write_bytes(b"old")
    with pytest.raises(FileTroubleError, match="in the way"):
        write_whole(tmp_path / "file" / "plan.json", b"x")
    with pytest.raises(FileTroubleError, match="in the way"):
        write_whole(tmp_path / "file" / "deeper" / "plan.json", b"x")
    assert (tmp_path / "file").read_bytes() == b"old"
    with pytest.raises(FileTroubleError, match="too long"):
        write_whole(tmp_path / ("n" * 300), b"x")


def test_a_file_is_not_written_over_when_asked_not_to(tmp_path):
    (tmp_path / "square.pdf").write_bytes(b"old")
    with pytest.raises(FileTroubleError, match="--force"):
        write_whole(tmp_path / "square.pdf", b"new", replace=False)
    assert (tmp_path / "square.pdf").read_bytes() == b"old"


def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "real.json").write_bytes(b"old")
    (tmp_path / "link.json").symlink_to("real.json")
    write_whole(tmp_path / "link.json", b"new")
    assert (tmp_path / "link.json").is_symlink()
    assert (tmp_path / "real.json").read_bytes() == b"new"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_is_read_only_is_said(tmp_path):
    (tmp_path / "shut").mkdir(mode=0o500)
    with pytest.raises(FileTroubleError, match="may not use it"):
        write_whole(tmp_path / "shut" / "plan.json", b"x")


def test_what_a_killed_command_worked_in_goes_with_the_next_one(tmp_path, monkeypatch):
    elsewhere = tmp_path / "temporary"
    elsewhere.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(elsewhere))
    for place in (tmp_path, elsewhere):
        killed = (
            place / ".pencilamp-4194305-0123456789ab.part"
        )  # above the highest number of a process: Linux, proc(5)
        killed.mkdir()
        (killed / "photo.jpg").write_bytes(b"private")
        # Where there is no folder, as where none can be made, the system's own place serves.
        with working_folder(tmp_path if place == tmp_path else tmp_path / "none") as work:
            assert work.parent == place and stat.S_IMODE(work.stat().st_mode) == 0o700
            (work / "photo.jpg").write_bytes(b"private")
        assert not list(place.glob(".pencilamp-*"))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="a child is made with fork and killed")
@pytest.mark.parametrize("linked", [False, True], ids=["a folder", "a link to one elsewhere"])
def test_a_set_is_finished_whose_program_was_killed_between_two_renames(tmp_path, linked):
    folder, elsewhere = tmp_path / "set", tmp_path / "elsewhere"
    names = ("slips/1.json", "slips/2.json")
    write_set(folder, dict.fromkeys(names, b"old"), {})
    if linked:
        (folder / "slips").rename(elsewhere)
        (folder / "slips").symlink_to(elsewhere)
    child = os.fork()
    if child == 0:
        placing = cli.files._Staged.put_in_place
        cli.files._Staged.put_in_place = lambda item: (
            os._exit(9) if item.target.name == "2.json" else placing(item)
        )
        write_set(folder, dict.fromkeys(names, b"new"), {})
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
    assert [(folder / name).read_bytes() for name in names] == [b"new", b"old"]
    assert finish_set(folder, lambda name: True) == ()
    assert [(folder / name).read_bytes() for name in names] == [b"new", b"new"]
    assert not is_unfinished(folder)
