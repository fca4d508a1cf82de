"""The folder of a plan: what is not provably ours is never replaced or removed, and a killed save is finished."""

import json
import os
import signal
import sys
from pathlib import Path

import pytest

from cli.file_trouble import FileTroubleError
from cli.plan_folder import add_files, finish, require_ours, save_plan, save_refusal
from cli.plan_record import record_of, with_record
from cli.png import is_own_png, own_png
from tests.cli.archive.made_up import tiny_png

PLAN = {"schema": "pencilamp/plan/1", "made_from": "harbour.jpg", "card": {"width_mm": 100.0}}
SOURCE = Path("harbour.jpg")


def a_set(tag, *more):
    files = {name: f"{name} {tag}".encode() for name in ("overlay.png", "sheet.pdf", "build.pdf", *more)}
    return {**files, "plan.json": with_record({**PLAN, "tag": tag}, files)}


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_set_replaces_the_one_before_and_takes_its_leftovers_away(tmp_path):
    assert save_plan(tmp_path, a_set("one", "glow.png"), SOURCE) == ()
    assert save_plan(tmp_path, a_set("two"), SOURCE) == ()
    assert contents(tmp_path) == a_set("two")


def by_this_name(folder, name, how):
    path = folder / name
    if how == "file":
        path.write_bytes(b"mine")
    elif how == "folder":
        path.mkdir()
    elif how == "pipe":
        os.mkfifo(path)
    elif how == "link":
        (folder / "elsewhere").write_bytes(b"mine")
        path.symlink_to("elsewhere")
    elif how == "dangling link":
        path.symlink_to("nowhere")
    return path


@pytest.mark.skipif(sys.platform == "win32", reason="no pipes, and links need rights there")
@pytest.mark.parametrize("how", ["file", "folder", "pipe", "link", "dangling link"])
@pytest.mark.parametrize("planned", [False, True])
@pytest.mark.parametrize("name", ["overlay.png", "sheet.pdf", "build.pdf"])
def test_what_is_not_ours_is_in_the_way_and_nothing_is_touched(tmp_path, name, planned, how):
    if planned:
        save_plan(tmp_path, a_set("one"), SOURCE)
        (tmp_path / name).unlink()
    by_this_name(tmp_path, name, how)
    before = sorted(path.name for path in tmp_path.iterdir())
    with pytest.raises(FileTroubleError, match=name) as caught:
        save_plan(tmp_path, a_set("two"), SOURCE)
    assert str(caught.value).count("\n") == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == before
    if how == "file":
        assert (tmp_path / name).read_bytes() == b"mine"


@pytest.mark.parametrize("name", ["glow.png", "spacing.png", "corrected.png", "refusal.png", "marks.pdf"])
def test_names_that_this_plan_does_not_use_stay(tmp_path, name):
    save_plan(tmp_path, a_set("one"), SOURCE)
    (tmp_path / name).write_bytes(b"mine")
    save_plan(tmp_path, a_set("two"), SOURCE)
    assert (tmp_path / name).read_bytes() == b"mine"


def test_a_picture_of_ours_that_was_drawn_on_is_somebodys(tmp_path):
    save_plan(tmp_path, a_set("one"), SOURCE)
    (tmp_path / "overlay.png").write_bytes(b"with a note on it")
    with pytest.raises(FileTroubleError, match=r"overlay\.png"):
        save_plan(tmp_path, a_set("two"), SOURCE)
    assert contents(tmp_path) == {**a_set("one"), "overlay.png": b"with a note on it"}


@pytest.mark.parametrize("name", ["refusal.png", "overlay.png", "glow.png"])
def test_the_photo_itself_is_never_written_over(tmp_path, name):
    photo = tmp_path / name
    photo.write_bytes(b"the photo")
    files = {**a_set("one"), "plan.json": with_record({**PLAN, "made_from": name}, a_set("one"))}
    if name == "overlay.png":
        with pytest.raises(FileTroubleError, match="very file"):
            save_plan(tmp_path, files, photo)
    else:
        save_plan(tmp_path, files, photo)
        assert save_refusal(tmp_path, tiny_png()) is None or name != "refusal.png"
    assert photo.read_bytes() == b"the photo"


def test_a_plan_changed_by_hand_is_kept_beside(tmp_path):
    save_plan(tmp_path, a_set("one"), SOURCE)
    for number, name in enumerate(("plan-edited.json", "plan-edited-2.json")):
        plan = json.loads((tmp_path / "plan.json").read_bytes())
        plan["card"]["width_mm"] = 50.0 + number
        (tmp_path / "plan.json").write_text(json.dumps(plan))
        edited = (tmp_path / "plan.json").read_bytes()
        (note,) = save_plan(tmp_path, a_set("two"), SOURCE)
        assert name in note and "by hand" in note
        assert (tmp_path / name).read_bytes() == edited
    assert record_of(tmp_path).unchanged


def test_the_plan_before_is_kept_whole_in_a_folder_below(tmp_path):
    save_plan(tmp_path, a_set("one", "glow.png"), SOURCE)
    (tmp_path / "notes.txt").write_bytes(b"mine")
    (note,) = save_plan(tmp_path, a_set("two"), SOURCE, keep_before=True)
    assert "before-1" in note
    assert contents(tmp_path / "before-1") == a_set("one", "glow.png")
    edited = (tmp_path / "plan.json").read_bytes() + b" "
    (tmp_path / "plan.json").write_bytes(edited)
    save_plan(tmp_path, a_set("three"), SOURCE, keep_before=True)
    assert contents(tmp_path / "before-2") == {**a_set("two"), "plan.json": edited}
    assert {path.name for path in tmp_path.iterdir()} == {
        *a_set("three"),
        "before-1",
        "before-2",
        "notes.txt",
    }


def of_a_photo(tag, content, read=True):
    """A plan's files, read from a photo (or a layout) with this content."""
    files = {"overlay.png": tag.encode()}
    plan = {
        **PLAN,
        "tag": tag,
        "made_from_sha256": content,
        "reading": {"photo": "harbour.jpg"} if read else None,
    }
    return {**files, "plan.json": with_record(plan, files)}


def test_the_plan_of_another_photo_of_the_same_name_is_kept(tmp_path):
    # Two pupils' phones both call their photo so, and both are planned into one folder.
    save_plan(tmp_path, of_a_photo("one", "a1"), SOURCE)
    (note,) = save_plan(tmp_path, of_a_photo("two", "b2"), SOURCE)
    assert note == f"The plan before, of another harbour.jpg, is kept in {tmp_path / 'before-1'}."
    assert contents(tmp_path / "before-1") == of_a_photo("one", "a1")


@pytest.mark.parametrize("read", [True, False])
def test_the_same_photo_and_an_edited_layout_replace_their_plan(tmp_path, read):
    save_plan(tmp_path, of_a_photo("one", "a1", read), SOURCE)
    assert save_plan(tmp_path, of_a_photo("two", "a1" if read else "b2", read), SOURCE) == ()


def test_a_save_that_fails_leaves_no_folder_of_the_plan_before(tmp_path, monkeypatch):
    save_plan(tmp_path, a_set("one"), SOURCE)

    def full(*_, **__):
        raise FileTroubleError("the disk is full")

    monkeypatch.setattr("cli.file_sets.write_files", full)
    with pytest.raises(FileTroubleError):
        save_plan(tmp_path, a_set("two"), SOURCE, keep_before=True)
    assert contents(tmp_path) == a_set("one")


def test_a_plan_that_was_only_laid_out_anew_is_as_it_was(tmp_path):
    save_plan(tmp_path, a_set("one"), SOURCE)
    value = json.loads((tmp_path / "plan.json").read_bytes())
    (tmp_path / "plan.json").write_text(json.dumps(value, indent=7))
    assert save_plan(tmp_path, a_set("two"), SOURCE) == ()


def test_a_folder_of_an_earlier_version_is_kept_aside(tmp_path):
    earlier = {
        "plan.json": json.dumps(PLAN).encode(),
        "overlay.png": b"old",
        "glow.png": b"a maker's own, who knows",
    }
    for name, data in earlier.items():
        (tmp_path / name).write_bytes(data)
    notes = " ".join(save_plan(tmp_path, a_set("one"), SOURCE))
    assert contents(tmp_path) == {
        **a_set("one"),
        "plan-earlier.json": earlier["plan.json"],
        "overlay-earlier.png": b"old",
        "glow.png": earlier["glow.png"],
    }
    assert "plan-earlier.json" in notes and "overlay-earlier.png" in notes and "glow.png" in notes
    assert save_plan(tmp_path, a_set("two"), SOURCE) == ()


@pytest.mark.parametrize(
    "plan", [b"{}", b"[", b'{"schema": "x"}', b"\xff", b'{"schema": "pencilamp/plan/1", "a": NaN}']
)
def test_a_plan_json_that_is_not_ours_is_refused(tmp_path, plan):
    (tmp_path / "plan.json").write_bytes(plan)
    with pytest.raises(FileTroubleError, match="not written over"):
        require_ours(tmp_path, SOURCE)
    with pytest.raises(FileTroubleError, match="not written over"):
        save_plan(tmp_path, a_set("one"), SOURCE)
    assert contents(tmp_path) == {"plan.json": plan}


def test_further_pages_are_recorded_and_foreign_ones_stay(tmp_path):
    save_plan(tmp_path, a_set("one"), SOURCE)
    add_files(tmp_path, {"sheet.pdf": b"larger", "marks.pdf": b"marks"}, replace=False)
    assert record_of(tmp_path).unchanged
    save_plan(tmp_path, a_set("two"), SOURCE)
    assert contents(tmp_path) == a_set("two")
    (tmp_path / "sheet.pdf").write_bytes(b"mine")
    with pytest.raises(FileTroubleError, match="--force"):
        add_files(tmp_path, {"build.pdf": b"new", "sheet.pdf": b"new"}, replace=False)
    assert contents(tmp_path) == {**a_set("two"), "sheet.pdf": b"mine"}
    add_files(tmp_path, {"sheet.pdf": b"new"}, replace=True)
    assert (tmp_path / "sheet.pdf").read_bytes() == b"new"


def test_pages_in_a_folder_without_a_plan(tmp_path):
    add_files(tmp_path, {"sheet.pdf": b"first"}, replace=False)
    add_files(tmp_path, {"sheet.pdf": b"first"}, replace=False)  # the same again is no trouble
    with pytest.raises(FileTroubleError, match="--force"):
        add_files(tmp_path, {"sheet.pdf": b"second"}, replace=False)
    assert contents(tmp_path) == {"sheet.pdf": b"first"}


@pytest.mark.skipif(sys.platform == "win32", reason="no pipes there")
def test_force_replaces_no_pipe(tmp_path):
    os.mkfifo(tmp_path / "sheet.pdf")
    with pytest.raises(FileTroubleError, match="no ordinary file"):
        add_files(tmp_path, {"sheet.pdf": b"new"}, replace=True)


def test_pages_for_a_plan_changed_by_hand_leave_it_known_as_such(tmp_path):
    save_plan(tmp_path, a_set("one"), SOURCE)
    plan = json.loads((tmp_path / "plan.json").read_bytes())
    (tmp_path / "plan.json").write_text(json.dumps({**plan, "mine": "é\ud800"}))
    add_files(tmp_path, {"sheet.pdf": b"new"}, replace=False)
    assert not record_of(tmp_path).unchanged
    assert json.loads((tmp_path / "plan.json").read_bytes())["mine"] == "é\ud800"


def test_only_our_own_refusal_is_written_over(tmp_path):
    assert save_refusal(tmp_path, tiny_png(1)) == tmp_path / "refusal.png"
    assert save_refusal(tmp_path, tiny_png(2)) == tmp_path / "refusal.png"
    save_plan(tmp_path, a_set("one"), SOURCE)
    assert not (tmp_path / "refusal.png").exists()
    (tmp_path / "refusal.png").write_bytes(tiny_png(3))
    assert save_refusal(tmp_path, tiny_png(4)) is None
    assert (tmp_path / "refusal.png").read_bytes() == tiny_png(3)


def test_a_picture_proves_itself_until_a_byte_changes(tmp_path):
    path = tmp_path / "a.png"
    data = own_png(tiny_png())
    path.write_bytes(data)
    assert is_own_png(path)
    for at in range(0, len(data), 7):
        path.write_bytes(data[:at] + bytes((data[at] ^ 1,)) + data[at + 1 :])
        assert not is_own_png(path)
    path.write_bytes(data + b"x")
    assert not is_own_png(path)


@pytest.mark.parametrize("bad", [b"", b"[]", b'{"files": {}}', b"[" * 100_000])
def test_a_list_of_a_set_that_makes_no_sense_leads_nowhere(tmp_path, bad):
    (tmp_path / ".pencilamp-set.json").write_bytes(bad)
    save_plan(tmp_path, a_set("one"), SOURCE)
    assert contents(tmp_path) == a_set("one")


def test_a_strangers_list_does_not_lead_out_of_the_folder(tmp_path):
    (tmp_path / "diary.txt").write_bytes(b"mine")
    folder = tmp_path / "folder"
    folder.mkdir()
    empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    for evil in ("../diary.txt", "notes.txt"):
        value = {"files": {evil: empty}, "before": {evil: None}, "parts": {evil: "x"}, "gone": {evil: empty}}
        (folder / ".pencilamp-set.json").write_text(json.dumps(value))
        (folder / "notes.txt").write_bytes(b"")
        finish(folder)
        assert (folder / "notes.txt").exists()
    assert (tmp_path / "diary.txt").read_bytes() == b"mine"


_STEPS = ("open", "os.rename", "os.remove", "os.link")


def killed_before(step, work):
    """Whether a child that does `work` was killed before its `step`-th step on the disk."""
    pid = os.fork()
    if pid == 0:
        left = [step]

        def count(event, _):
            if event in _STEPS:
                left[0] -= 1
                if left[0] == 0:
                    os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(count)
        work()
        os._exit(0)
    _, status = os.waitpid(pid, 0)
    return os.WIFSIGNALED(status)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="a child is made with fork and killed")
def test_a_save_that_is_killed_anywhere_is_finished_or_undone_by_the_next_command(tmp_path):
    step, finished = 0, 0
    while True:
        step += 1
        folder = tmp_path / str(step)
        save_plan(folder, a_set("one", "glow.png"), SOURCE)
        if not killed_before(
            step, lambda folder=folder: save_plan(folder, a_set("two", "corrected.png"), SOURCE)
        ):
            break
        finished += bool(finish(folder))
        assert contents(folder) in (a_set("one", "glow.png"), a_set("two", "corrected.png")), step
        assert save_plan(folder, a_set("three"), SOURCE) == ()
        assert contents(folder) == a_set("three"), step
    assert finished >= 5  # between the first rename and the last clearing away
    assert step > 30


@pytest.mark.skipif(not hasattr(os, "fork"), reason="a child is made with fork and killed")
def test_what_a_maker_puts_there_after_a_kill_is_not_written_over(tmp_path):
    for step in range(1, 60, 3):
        folder = tmp_path / str(step)
        save_plan(folder, a_set("one"), SOURCE)
        killed_before(step, lambda folder=folder: save_plan(folder, a_set("two"), SOURCE))
        (folder / "sheet.pdf").write_bytes(b"mine")
        finish(folder)
        with pytest.raises(FileTroubleError, match=r"sheet\.pdf"):
            save_plan(folder, a_set("three"), SOURCE)
        assert (folder / "sheet.pdf").read_bytes() == b"mine"
