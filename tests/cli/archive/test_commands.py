"""`pencilamp archive ...` from outside: exit codes, the words that help, what is on disk."""

import hashlib
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
from PIL import Image

from cli.archive.questions import Wanted
from cli.archive.store import Archive
from cli.file_trouble import FileTroubleError
from tests.cli.archive.made_up import DEVICE, made_up, made_up_plan, plan_folder, tiny_jpeg
from tests.cli.commands.test_plan import EASY, LAYOUT, run
from tests.vision.draw import draw

COMMANDS = (
    "keep list find show relabel redo compare take-out bring-in remove put-back empty-bin check mend".split()
)


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    """The archive's place, an 80-column terminal, and a folder to work in."""
    monkeypatch.setenv("PENCILAMP_ARCHIVE", str(tmp_path / "archive"))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "archive"


def says(line, *paths, ok=0):
    """What `pencilamp archive LINE` prints, as one line; `{}` in it are paths. It ends with `ok`."""
    words = [paths[int(word[1:-1])] if re.fullmatch(r"\{\d\}", word) else word for word in shlex.split(line)]
    return " ".join(run("archive", *words, ok=ok)[1].split())


def ended(*arguments, **how):
    """`pencilamp archive ...` in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "cli.main", "archive", *arguments], capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}, **how,
    )  # fmt: skip


def kept(here, *designs):
    with Archive(here, writing=True) as archive:
        return archive.keep_all(designs)


def in_archive(here, **wanted):
    with Archive(here, writing=False) as archive:
        return list(archive.find(Wanted(**wanted)))


def test_a_plan_is_kept_with_its_photo(here, tmp_path):
    folder = plan_folder(tmp_path / "desk")
    text = says("keep {0} --title 'Harbour at night' --tag 'class, gift' --note blue", folder)
    assert "Kept as number 1, Harbour at night (3 lights, CR2032, quarter-letter, ready)." in text
    (design,) = in_archive(here)
    assert (design.tags, design.note) == (("class", "gift"), "blue")
    with Archive(here, writing=False) as archive:
        assert archive.read_file(design, design.file("photo")) == tiny_jpeg(120)


def test_several_are_kept_at_once_and_a_bad_one_does_not_stop_them(here, tmp_path):
    one, two = plan_folder(tmp_path / "quay"), plan_folder(tmp_path / "moor", made_up_plan(5))
    code, _, trouble = run("archive", "keep", one, "missing.jpg", two, "--title", "Class")
    assert code == 4
    assert "missing.jpg" in trouble
    assert "Traceback" not in trouble
    assert [design.facts.lights for design in in_archive(here, words=("class",))] == [5, 3]
    assert {design.title for design in in_archive(here)} == {"Class harbour"}


def test_the_same_plan_is_not_kept_twice_by_mistake(here, tmp_path):
    folder = plan_folder(tmp_path / "desk")
    says("keep {0}", folder)
    text = says("keep {0}", folder / "plan.json")
    assert "kept already as number 1" in text
    assert len(in_archive(here)) == 1
    says("keep {0} --twice", folder)
    assert len(in_archive(here)) == 2


@pytest.mark.parametrize("name", ["tokens.json", "holiday.jpg", "sheet.pdf", "glow.png"])
@pytest.mark.parametrize("hashed", [False, True])
def test_a_strangers_plan_takes_no_private_file_along(here, tmp_path, name, hashed):
    folder = plan_folder(tmp_path / "desk")
    plan = json.loads((folder / "plan.json").read_bytes())
    plan["made_from"] = plan["reading"]["photo"] = name
    plan["made_from_sha256"] = "0" * 64 if hashed else None
    plan["written"] = {"files": {"sheet.pdf": "0" * 64}} if hashed else None
    (folder / "plan.json").write_text(json.dumps(plan))
    for place in (folder, tmp_path / "desk"):
        (place / name).write_bytes(b"private")
    for source in (folder, folder / "plan.json"):
        says("keep {0} --twice", source)
    for design in in_archive(here):
        assert {file.name for file in design.files} == {"plan.json", "overlay.png"}
        assert b"private" not in _kept_bytes(here, design, "overlay.png")


def test_pages_that_were_not_written_with_the_plan_are_told(here, tmp_path):
    folder = plan_folder(tmp_path / "desk")
    (folder / "overlay.png").write_bytes(b"of another plan")
    (folder / "build.pdf").write_bytes(b"mine")
    text = says("keep {0}", folder)
    assert "Not written with this plan, so not kept with it: overlay.png, build.pdf." in text
    (design,) = in_archive(here)
    assert [file.name for file in design.files] == ["plan.json", "overlay.png", "harbour.jpg"]
    assert _kept_bytes(here, design, "overlay.png") != b"of another plan"  # one was drawn


@pytest.mark.skipif(sys.platform == "win32", reason="no pipes there")
def test_pipes_and_devices_are_not_waited_for(here, tmp_path):
    folder = plan_folder(tmp_path / "desk")
    os.mkfifo(tmp_path / "pipe.json")
    code, _, trouble = run("archive", "keep", "pipe.json")
    assert code == 4 and "no ordinary file" in trouble
    (folder / "design.json").unlink(missing_ok=True)
    os.mkfifo(folder / "design.json")
    says("keep {0}", folder)
    code, _, trouble = run("archive", "keep", folder, "--photo", tmp_path / "pipe.json", "--twice")
    assert code == 4 and "no such file" in trouble
    code, _, trouble = run("archive", "keep", "/dev/zero")
    assert code == 4


def test_a_photo_that_is_not_the_plans_is_not_kept_with_it(here, tmp_path):
    folder = plan_folder(tmp_path / "desk")
    plan = json.loads((folder / "plan.json").read_bytes())
    plan["made_from_sha256"] = hashlib.sha256(b"another photo").hexdigest()
    (folder / "plan.json").write_text(json.dumps(plan))
    text = says("keep {0}", folder)
    assert "not the one that the plan was made from" in text
    assert in_archive(here)[0].file("photo") is None
    code, _, trouble = run("archive", "keep", folder, "--photo", tmp_path / "desk" / "harbour.jpg", "--twice")
    assert code == 4
    assert "another picture" in trouble
    (tmp_path / "right.jpg").write_bytes(b"another photo")
    says("keep {0} --photo {1} --twice", folder, tmp_path / "right.jpg")
    assert in_archive(here)[0].file("photo").name == "right.jpg"


def test_a_plan_without_photo_is_kept_and_said(here, tmp_path):
    folder = plan_folder(tmp_path / "desk")
    (tmp_path / "desk" / "harbour.jpg").unlink()
    (folder / "overlay.png").unlink()  # then one is drawn
    text = says("keep {0}", folder)
    assert "the plan alone is kept" in text
    assert [file.name for file in in_archive(here)[0].files] == ["plan.json", "overlay.png"]


def test_a_layout_file_is_planned_and_kept_with_its_source(here, tmp_path):
    (tmp_path / "moor.json").write_text(json.dumps(LAYOUT))
    says("keep moor.json")
    (design,) = in_archive(here)
    assert design.title == "moor"
    assert design.file("layout").name == "moor.json"
    text = says("redo 1")
    assert "comes out the same" in text


def test_plan_keeps_with_keep(here, tmp_path):
    (tmp_path / "moor.json").write_text(json.dumps(LAYOUT))
    _, text, _ = run("plan", "moor.json", "--no-pages", "--cell", "CR2016", "--keep", "Moor by night")
    assert "Kept in the archive as number 1: Moor by night." in text
    (design,) = in_archive(here, cell="CR2016")
    assert design.title == "Moor by night"
    for name in ("plan.json", "overlay.png"):
        assert (tmp_path / "moor-plan" / name).read_bytes() == _kept_bytes(here, design, name)


def _kept_bytes(here, design, name):
    with Archive(here, writing=False) as archive:
        return archive.read_file(design, next(file for file in design.files if file.name == name))


def test_designs_carried_elsewhere_keep_their_order(here):
    kept(here, *(made_up(f"Card {i}", shade=i) for i in range(3)))
    says("take-out --all --to class.zip")
    says("bring-in class.zip --at elsewhere")
    with Archive(Path("elsewhere"), writing=False) as archive:
        titles = {design.number: design.title for design in archive.every_design()}
    assert titles == {1: "Card 0", 2: "Card 1", 3: "Card 2"}


def test_a_layouts_plan_is_kept_without_a_word_of_a_photo(here, tmp_path):
    (tmp_path / "moor.json").write_text(json.dumps(LAYOUT))
    run("plan", "moor.json", "--no-pages", "--out", "results/moor", ok=0)
    text = says("keep results/moor")
    assert "Kept as number 1" in text and "--photo" not in text


def test_plan_says_when_it_could_not_keep(here, tmp_path):
    (tmp_path / "moor.json").write_text(json.dumps(LAYOUT))
    here.write_bytes(b"in the way")
    code, text, _ = run("plan", "moor.json", "--no-pages", "--keep", "Moor")
    assert code == 4
    assert "Not kept in the archive" in text
    assert (tmp_path / "moor-plan" / "plan.json").exists()  # the plan itself is saved


def test_a_real_photo_comes_out_the_same_again(here, tmp_path):
    exif = Image.Exif()
    exif[0x0110] = DEVICE
    Image.fromarray(draw(EASY, seed=4).pixels).save(tmp_path / "easy.jpg", quality=92, exif=exif)
    run("plan", "easy.jpg", "--no-pages", "--cell", "CR2016", "--keep", "Easy")
    text = says("redo easy")
    assert "1 Easy: comes out the same" in text
    # Out and in again without what the camera wrote: the same card still.
    says("take-out easy --to easy.zip")
    says("bring-in easy.zip --at elsewhere")
    text = says("redo --all --at elsewhere")
    assert "1 Easy: comes out the same" in text
    # A plan that knows less, as of an earlier program: what changed is told in millimetres and rules.
    text = says("show easy --out laid")
    assert "Left out of the photos" in text
    plan = json.loads((tmp_path / "laid" / "plan.json").read_text())
    plan["lights"][0]["x_mm"] -= 2.0
    (tmp_path / "laid" / "plan.json").write_text(json.dumps(plan))
    says("keep laid --title Earlier")
    text = says("redo earlier --keep")
    assert "L1 lies 2.0 mm further right" in text
    assert "Kept as number 3, Earlier" in text
    assert len(in_archive(here, words=("earlier",))) == 2


def test_list_and_find_print_tables_that_fit(here):
    kept(
        here,
        made_up("Harbour at night with a very long title that goes on and on and on for ever", days_ago=2),
        made_up("灯台の夜 灯台の夜 灯台の夜 灯台の夜", plan=made_up_plan(9, "CR2016", must_fix=2)),
        made_up("Moor", plan=made_up_plan(look_again=3)),
    )
    _, text, _ = run("archive", "list", ok=0)
    assert all(_columns(line) <= 80 for line in text.splitlines())
    assert "2 to fix" in text
    assert "look at 3" in text
    assert "3 designs kept." in text
    text = says("find --lights 9 --cell CR2016")
    assert "1 design found." in text
    text = says("find --lights 12")
    assert "Nothing found; 3 designs are kept." in text


def test_a_single_lights_own_colour_is_shown(tmp_path, here):
    write = tmp_path / "harbour.json"
    write.write_text(json.dumps(LAYOUT), encoding="utf-8")
    run("plan", write, "--no-pages", "--colour", "white", "--colour", "L2=blue", "--keep", "Harbour")
    text = says("show Harbour")
    assert "2, 5050 white, L2 blue" in text


def _columns(line):
    return sum(2 if unicodedata.east_asian_width(ch) in "WF" else 1 for ch in line)


def test_a_long_list_shows_the_newest_first_and_says_so(here):
    kept(here, *(made_up(f"Card {i}", days_ago=i) for i in range(45)))
    text = says("list")
    assert "The newest 40 of 45; say --all for the others." in text
    assert "Card 0 " in text
    assert "Card 44" not in text
    text = says("list --all")
    assert "Card 44" in text


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        (("--since", "2026-11"), {"New"}),
        (("--until", "2026-10"), {"Old"}),
        (("--since", "2026-10-26", "--until", "2026-10-26"), {"Old"}),
        (("--since", "2026"), {"New", "Old"}),
        (("--with-problems",), {"Old"}),
        (("--without-problems",), {"New"}),
        (("--card", "quarter-letter"), {"New", "Old"}),
        (("--card", "4.25x5.5in"), {"New", "Old"}),
        (("--card", "A6"), set()),
        (("--tag", "CLASS"), {"New"}),
        (("--lights", "-3"), {"New"}),
        (("--lights", "4-"), {"Old"}),
    ],
)
def test_find_by_what_a_design_is(here, arguments, found):
    kept(
        here,
        made_up("New", tags=("class",)),
        made_up("Old", days_ago=30, plan=made_up_plan(5, must_fix=1)),
    )
    _, text, _ = run("archive", "find", *arguments, ok=0)
    assert {name for name in ("New", "Old") if name in text} == found


def test_a_title_of_picture_signs_is_found_by_them(here):
    kept(here, made_up("🎄🎄"), made_up("Harbour 🎄"), made_up("Harbour"))
    assert "2 designs found" in says("find 🎄")
    assert "1 design found" in says("find harb 🎄")
    assert "1 design found" in says("find 🎄🎄")
    assert "Nothing found" in says("find ☃")


@pytest.mark.parametrize(
    "arguments",
    [
        ("find", "--lights", "many"),
        ("find", "--since", "last week"),
        ("find", "--until", "2026-13"),
        ("find", "--card", "enormous"),
        ("find", "--lights", "9-5"),
        ("show", "7"),
        ("relabel", "1"),
        ("relabel", "1", "--title", " "),
        ("take-out", "--to", "x.zip"),
        ("take-out", "1", "--all", "--to", "x.zip"),
        ("redo",),
        ("compare", "1", "9"),
        ("put-back", "1"),
        ("mend", "--to", "x", "--look-in", "."),
        ("keep", "none.jpg", "--title", ""),
    ],
)
def test_wrong_use_ends_with_2(here, arguments):
    kept(here, made_up("Harbour"))
    finished = ended(*arguments)
    assert finished.returncode == 2, finished.stderr
    assert "Traceback" not in finished.stderr


def test_relabel(here):
    kept(here, made_up("Harbour", tags=("class", "blue"), note="One."))
    says("relabel harbour --title Quay --tag gift --untag Class --add-note Two.")
    (design,) = in_archive(here, words=("quay",))
    assert (design.tags, design.note) == (("blue", "gift"), "One.\nTwo.")


def test_remove_put_back_and_empty_the_bin(here):
    kept(here, made_up("Harbour"), made_up("Moor"))
    says("remove 1 harbour")
    assert [design.title for design in in_archive(here)] == ["Moor"]
    text = says("list --bin")
    assert "Harbour" in text
    says("put-back harbour")
    assert len(in_archive(here)) == 2
    says("remove 1")
    assert "for good?" in ended("empty-bin", input="n\n").stdout
    assert len(in_archive(here, binned=True)) == 1
    says("empty-bin --yes")
    assert in_archive(here, binned=True) == []
    text = says("empty-bin")
    assert "The bin is empty." in text


def test_one_bad_zip_does_not_stop_the_others(here, tmp_path):
    kept(here, made_up("Harbour"))
    says("take-out 1 --to good.zip")
    (tmp_path / "bad.zip").write_bytes(b"no")
    code, text, trouble = run("archive", "bring-in", "bad.zip", "good.zip", "--at", "other")
    assert code == 4
    assert "1 design brought in" in text
    assert "bad.zip" in trouble


def test_check_and_mend(here, tmp_path):
    (design,) = kept(here, made_up("Harbour"))
    assert "all sound" in says("check")
    with Archive(here, writing=False) as archive:
        path = archive.shelf.path(design.file("photo").sha256)
    shutil.copy(path, tmp_path / "spare.jpg")
    path.unlink()
    code, text, _ = run("archive", "check")
    assert code == 4
    assert "harbour.jpg of Harbour (number 1) is missing" in text
    assert run("archive", "mend")[0] == 4
    says("mend --look-in {0}", tmp_path)
    says("check")
    (here / "archive.db").write_bytes(b"ruined" * 100)
    listed = ended("list")  # the list is made anew
    assert (listed.returncode, listed.stderr) == (0, "") and "Harbour" in listed.stdout
    text = says("mend --to rescued")
    assert (tmp_path / "rescued" / "Harbour" / "harbour.jpg").read_bytes() == tiny_jpeg(120)
    assert "as they were taken" in text
    text = says("mend")
    assert "Nothing to mend" in text
    says("check")


def test_compare_draws_and_lists(here, tmp_path):
    kept(here, made_up("Harbour"), made_up("Harbour, larger", plan=made_up_plan(4, "CR2016")))
    text = says("compare 1 2 --picture both.png")
    assert "The cell is CR2016, was CR2032." in text
    # Two of three lights lie elsewhere along the lane, some 6 mm off: which of the four they are would be a guess.
    assert "The lights lie elsewhere: 3 lights before, 4 now." in text
    with Image.open(tmp_path / "both.png") as drawn:
        assert drawn.width >= 1000
    with pytest.raises(FileTroubleError, match="already there"):
        run("archive", "compare", "1", "2", "--picture", "both.png")
    text = says("compare 1 1 --picture same.png")
    assert "Nothing differs." in text


def test_pictures_and_zips_get_the_endings_that_open_them(here, tmp_path):
    kept(here, made_up("Harbour"))
    assert "Look at same.jpg.png" in says("compare 1 1 --picture same.jpg")
    with Image.open(tmp_path / "same.jpg.png") as drawn:
        assert drawn.format == "PNG"
    assert "taken out to harbour.zip." in says("take-out 1 --to harbour")
    assert (tmp_path / "harbour.zip").read_bytes().startswith(b"PK")


def test_contact_sheets_hold_a_dozen_each(here, tmp_path):
    kept(here, *(made_up(f"Card {i}", shade=i) for i in range(14)))
    text = says("list --picture cards.png")
    assert "Look at cards.png, and on to cards-2.png" in text
    assert {path.name for path in tmp_path.glob("*.png")} == {"cards.png", "cards-2.png"}
    with Image.open("cards.png") as first, Image.open("cards-2.png") as second:
        assert first.height > second.height


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_with_an_example(command):
    _, text, _ = run("archive", command, "--help", ok=0)
    assert f"pencilamp archive {command}" in text
    assert all(len(line) <= 100 for line in text.splitlines())


def test_the_examples_of_the_help_work(here, tmp_path):
    plan_folder(tmp_path / "desk")
    kept(here, *(made_up(f"Card {i}") for i in range(20)))
    kept(here, made_up("Harbour at night", plan=made_up_plan(9, "CR2016")))
    for command in COMMANDS:
        if command in ("keep", "redo"):  # these need a real photo
            continue
        _, text, _ = run("archive", command, "--help", ok=0)
        example = next(
            line.strip() for line in text.splitlines() if line.strip().startswith("pencilamp archive")
        )
        arguments = shlex.split(example)[1:]
        if command == "bring-in":
            assert (tmp_path / "harbour.zip").exists()  # take-out's example made it
        assert run(*arguments)[0] == 0, example


def test_looking_needs_no_heavy_libraries(here):
    kept(here, made_up("Harbour"))
    heavy = ("cv2", "scipy", "reportlab", "skimage", "shapely", "numpy", "PIL")
    code = (
        "import sys, cli.main\nsys.argv = ['pencilamp', 'archive', 'find', 'harb']\ntry:\n cli.main.run()\n"
        f"finally:\n print([name for name in {heavy} if name in sys.modules])"
    )
    finished = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "Harbour" in finished.stdout
    assert finished.stdout.strip().endswith("[]"), finished.stdout
