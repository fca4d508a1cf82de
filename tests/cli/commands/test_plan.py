"""`pencilamp plan` from outside: exit codes, the words that help, and what is on disk afterwards."""

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

import cli.main
from circuit.errors import UsageError
from cli.main import main
from cli.plan_options import card_from
from tests.vision.draw import Dot, Drawing, Ring, draw

EASY = Drawing(dots=(Dot(30.2, 60.1), Dot(48.7, 60.4), Dot(66.9, 60.2)), ring=Ring(80.3, 110.2))
TOO_CLOSE = Drawing(dots=(Dot(40.2, 60.1), Dot(45.1, 60.3)), ring=Ring(80.3, 110.2))
LAYOUT = {
    "schema": "pencilamp/layout/1",
    "card": {"width_mm": 107.95, "height_mm": 139.7},
    "battery": {"x_mm": 80.0, "y_mm": 110.0, "diameter_mm": 20.6},
    "lights": [{"x_mm": 30.0, "y_mm": 60.0}, {"x_mm": 50.0, "y_mm": 60.0}],
    "window": None,
}


@pytest.fixture(scope="module")
def photos(tmp_path_factory):
    """A folder with one photo that can be taped, one with lights too close, one without a square."""
    folder = tmp_path_factory.mktemp("photos")
    for name, drawing in (
        ("easy.jpg", EASY),
        ("close.jpg", TOO_CLOSE),
        ("bare.jpg", Drawing(square=None)),
    ):
        Image.fromarray(draw(drawing, seed=4).pixels).save(folder / name, quality=92)
    return folder


def run(*arguments, ok=None):
    result = CliRunner().invoke(main, [str(argument) for argument in arguments], standalone_mode=False)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    code = result.return_value if isinstance(result.return_value, int) else 0
    if ok is not None:
        assert code == ok, result.output
    return code, result.stdout, result.stderr


def write_layout(folder, **changes):
    path = folder / "harbour-layout.json"
    path.write_text(json.dumps({**LAYOUT, **changes}), encoding="utf-8")
    return path


def test_one_photo_makes_a_whole_folder(photos, tmp_path):
    out = tmp_path / "results"
    _, text, _ = run("plan", photos / "easy.jpg", "--out", out, ok=0)
    assert "easy.jpg" in text
    assert "3 lights" in text
    assert "overlay.png" in text
    assert {path.name for path in out.iterdir()} == {"plan.json", "overlay.png", "sheet.pdf", "build.pdf"}
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["schema"] == "pencilamp/plan/1"
    assert plan["reading"]["photo"] == "easy.jpg"
    assert [light["label"] for light in plan["lights"]] == ["L1", "L2", "L3"]
    for light, dot in zip(plan["lights"], EASY.dots):
        # Half of what a light may lie off the midline; measured on this photo: 0.06 mm.
        assert np.hypot(light["x_mm"] - dot.x_mm, light["y_mm"] - dot.y_mm) < 0.25
        assert light["positive_side_deg"] is not None
    assert plan["battery"]["cell"] == "CR2032"
    assert not [problem for problem in plan["problems"] if problem["level"] == "must-fix"]
    with Image.open(out / "overlay.png") as overlay:
        overlay.verify()


def test_the_folder_lies_beside_the_photo(photos, tmp_path):
    photo = tmp_path / "easy.jpg"
    photo.write_bytes((photos / "easy.jpg").read_bytes())
    run("plan", photo, "--no-pages", ok=0)
    assert {path.name for path in (tmp_path / "easy-plan").iterdir()} == {"plan.json", "overlay.png"}


def test_lights_too_close_end_with_1_and_say_what_to_do(photos, tmp_path):
    _, text, _ = run("plan", photos / "close.jpg", "--out", tmp_path / "o", "--no-pages", ok=1)
    assert "lights-too-close" in text
    assert "mm apart" in text
    assert "move L" in text
    assert (tmp_path / "o" / "corrected.png").exists()


def test_a_refused_photo_ends_with_3_and_writes_no_plan(photos, tmp_path):
    out = tmp_path / "o"
    code, text, trouble = run("plan", photos / "bare.jpg", "--out", out)
    assert code == 3
    assert text == ""
    assert "bare.jpg" in trouble
    assert "square" in trouble
    said = [line for line in trouble.splitlines() if not line.endswith(" ...")]  # told where it is slow
    assert len(said) == 1
    assert {path.name for path in out.iterdir()} == {"refusal.png"}


def test_a_refused_photo_leaves_an_earlier_plan_alone(photos, tmp_path):
    out = tmp_path / "o"
    run("plan", photos / "easy.jpg", "--out", out, "--no-pages", ok=0)
    before = (out / "plan.json").read_bytes()
    bare = tmp_path / "easy.jpg"
    bare.write_bytes((photos / "bare.jpg").read_bytes())
    code, _, _ = run("plan", bare, "--out", out, "--no-pages")
    assert code == 3
    assert (out / "plan.json").read_bytes() == before
    # Once it can be read again, the picture of the refusal would only mislead.
    run("plan", photos / "easy.jpg", "--out", out, "--no-pages", ok=0)
    assert not (out / "refusal.png").exists()


def test_several_photos_survive_a_bad_one(photos, tmp_path):
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"not a picture")
    code, text, trouble = run(
        "plan", photos / "easy.jpg", broken, photos / "bare.jpg", "--out", tmp_path / "o", "--no-pages"
    )
    assert code == 4
    assert (tmp_path / "o" / "easy-plan" / "plan.json").exists()
    assert not (tmp_path / "o" / "broken-plan").exists()
    assert "broken.jpg" in trouble
    assert "1 ready, 1 not readable, 1 with file trouble" in text


def test_what_a_layout_says_and_nothing_reads_is_told(tmp_path):
    lights = [{"x_mm": 30.0, "y_mm": 60.0, "colour": "red"}, {"x_mm": 50.0, "y_mm": 60.0}]
    battery = {**LAYOUT["battery"], "cell": "CR2016"}
    layout = write_layout(tmp_path, lights=lights, battery=battery, light="3528")
    _, text, _ = run("plan", layout, "--no-pages", ok=0)
    told = "Not read from this file: light, a light's colour, the battery's cell. Parts are said with --light"
    assert told in " ".join(text.split())
    # A plan made of it is a whole one: what is in there is the program's own affair.
    _, text, _ = run("plan", tmp_path / "harbour-layout-plan", "--no-pages", ok=0)
    assert "Not read" not in text


@pytest.mark.parametrize(
    "said", [("--turn", "90"), ("--card", "A6"), ("--square", "30mm"), ("--printed", "39mm")]
)
def test_what_tells_how_a_photo_is_read_is_refused_beside_marks_that_are_read(tmp_path, said):
    layout = write_layout(tmp_path)
    code, _, trouble = run("plan", layout, *said, "--no-pages")
    assert code == 2
    assert f"{said[0]} goes with a photo" in trouble and "name the photo instead" in trouble
    assert list(tmp_path.iterdir()) == [layout]


def test_several_lights_are_dropped_and_the_cell_moved_as_people_say_it(tmp_path):
    lights = [{"x_mm": x, "y_mm": 60.0} for x in (20.0, 35.0, 50.0)]
    layout = write_layout(tmp_path, lights=lights)
    run("plan", layout, "--drop", "L1, l2", "--move", "cell 2mm up", "--no-pages", ok=0)
    plan = json.loads((tmp_path / "harbour-layout-plan" / "plan.json").read_text(encoding="utf-8"))
    assert [light["label"] for light in plan["lights"]] == ["L3"]
    assert plan["battery"]["y_mm"] == 108.0


def test_a_limit_is_known_however_its_name_is_spelt(tmp_path):
    layout = write_layout(tmp_path)
    _, text, _ = run(
        "plan", layout, "--limit", "Lights too close=25mm", "--no-pages", "--out", tmp_path / "o"
    )
    assert "they need 25 mm" in " ".join(text.split())
    code, _, trouble = run("plan", layout, "--limit", "lights-to-close=25mm", "--no-pages")
    assert code == 2 and "Did you mean lights-too-close?" in trouble


def test_moves_asked_of_a_photo_are_refused_with_the_way_to_them(photos, tmp_path):
    _, _, trouble = run("plan", photos / "close.jpg", "--apply-moves", "--out", tmp_path / "o")
    assert "`pencilamp plan close-plan --apply-moves`" in trouble
    assert not (tmp_path / "o").exists()


def test_cards_to_look_at_again_do_not_count_as_ready(photos, tmp_path):
    # A light 5.1 mm from the edge where 5 mm are needed, and its mark is good to 0.3 mm.
    lights = [{"x_mm": 7.6, "y_mm": 60.0, "uncertainty_mm": 0.3}, {"x_mm": 50.0, "y_mm": 60.0}]
    near = write_layout(tmp_path, lights=lights)
    code, text, _ = run("plan", photos / "easy.jpg", near, "--out", tmp_path / "o", "--no-pages")
    assert code == 0
    assert "Look again at 1 thing" in text
    assert "In all: 1 ready, 1 to look at again." in text


def test_what_several_cards_take_adds_up_to_what_each_is_told(tmp_path):
    at = [(30.0, 40.0), (60.0, 40.0), (60.0, 70.0)]
    files = []
    for count in (1, 2, 3):
        (folder := tmp_path / str(count)).mkdir()
        lights = [{"x_mm": x, "y_mm": y} for x, y in at[:count]]
        files.append(write_layout(folder, lights=lights))
    crowded = [{"x_mm": 10.0 + x, "y_mm": 40.0} for x in (0.0, 1.0, 2.0)]  # no traces can be laid
    (folder := tmp_path / "none").mkdir()
    none = write_layout(folder, lights=crowded)
    _, text, _ = run("plan", *files, "--colour", "L1=red", "--no-pages", "--out", tmp_path / "o")
    said = " ".join(text.split())
    strips = [int(mm) for mm in re.findall(r"one strip of (\d+) mm", said)]
    assert len(strips) == 3 and sum(strips) < 1000
    assert f"To have for all 3: {sum(strips)} mm of copper tape 5 mm wide, in 3 strips; " in said
    assert "3 red 5050 lights and 1 to spare; 3 white 5050 lights and 1 to spare; 3 CR2032 cells." in said
    assert text.rstrip().splitlines()[-1].startswith("In all: ")
    _, text, _ = run("plan", files[0], none, "--units", "in", "--no-pages", "--out", tmp_path / "p")
    said = " ".join(text.split())
    assert "To have for the one that has traces: " in said and "1 white 5050 light and 1 to spare" in said
    _, text, _ = run("plan", none, none, "--no-pages", "--out", tmp_path / "q")
    assert "To have for" not in text


def test_several_photos_asked_for_wrongly_are_all_told(photos, tmp_path):
    code, text, trouble = run(
        "plan", photos / "easy.jpg", photos / "close.jpg", "--cell", "2033", "--out", tmp_path
    )
    assert code == 2
    assert trouble.count("no cell called '2033'") == 2
    assert "In all: 2 not planned as asked." in text


def test_a_tape_is_asked_for_by_any_name_that_the_list_has(tmp_path):
    layout, parts = write_layout(tmp_path), tmp_path / "my.toml"
    parts.write_text('[tapes."6 mm foil"]\nwidth_mm = 6.0\n[tapes."3mm"]\nwidth_mm = 8.0\n', encoding="utf-8")
    for name, trace_mm in (("6 mm foil", 3.0), ("6-MM-foil", 3.0), ("3mm", 4.0), ("3 mm", 4.0), ("2mm", 2.0)):
        out = tmp_path / name
        run("plan", layout, "--parts", parts, "--tape", name, "--no-pages", "--out", out, ok=0)
        plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
        assert plan["traces"]["tape_width_mm"] == trace_mm
    with pytest.raises(UsageError, match=r"'7 mm foil' is not a length.*or name a tape"):
        run("plan", layout, "--tape", "7 mm foil")


def test_a_trace_as_wide_as_a_whole_tape_is_remarked(tmp_path):
    layout = write_layout(tmp_path)
    _, text, _ = run("plan", layout, "--tape", "5mm", "--no-pages", "--out", tmp_path / "wide")
    assert "the strip is 10 mm wide" in " ".join(text.split())
    assert "--tape copper-5" in text
    _, text, _ = run("plan", layout, "--tape", "copper-5", "--no-pages", "--out", tmp_path / "named")
    assert "--tape" not in text


def test_a_title_that_is_none_is_refused_before_the_work(tmp_path):
    layout = write_layout(tmp_path)
    with pytest.raises(UsageError, match="needs a title"):
        run("plan", layout, "--keep", " ")
    assert list(tmp_path.iterdir()) == [layout]


def test_photos_of_one_name_get_a_folder_each(photos, tmp_path):
    twins = []
    for place in ("monday", "tuesday"):
        (tmp_path / place).mkdir()
        twins.append(tmp_path / place / "card.jpg")
        twins[-1].write_bytes((photos / "easy.jpg").read_bytes())
    run("plan", *twins, "--out", tmp_path / "o", "--no-pages", ok=0)
    assert sorted(path.name for path in (tmp_path / "o").iterdir()) == ["card-plan", "card-plan-2"]


def test_the_plan_of_another_photo_is_not_written_over(photos, tmp_path):
    out = tmp_path / "o"
    run("plan", photos / "easy.jpg", "--out", out, "--no-pages", ok=0)
    before = (out / "plan.json").read_bytes()
    code, _, trouble = run("plan", photos / "close.jpg", "--out", out, "--no-pages")
    assert code == 4
    assert "easy.jpg" in trouble
    assert (out / "plan.json").read_bytes() == before


def test_somebody_elses_plan_json_is_not_written_over(photos, tmp_path):
    (tmp_path / "plan.json").write_text('{"holiday": "in June"}', encoding="utf-8")
    code, _, trouble = run("plan", photos / "easy.jpg", "--out", tmp_path)
    assert code == 4
    assert "not written over" in trouble
    assert json.loads((tmp_path / "plan.json").read_text(encoding="utf-8")) == {"holiday": "in June"}


def test_a_layout_file_stands_in_for_a_photo(tmp_path):
    _, text, _ = run("plan", write_layout(tmp_path), "--units", "in", ok=0)
    assert "2 lights" in text
    assert " in" in text
    plan = json.loads((tmp_path / "harbour-layout-plan" / "plan.json").read_text(encoding="utf-8"))
    assert plan["reading"] is None
    assert plan["traces"]["positive"]


def test_an_older_plan_is_planned_afresh_with_its_own_settings(tmp_path):
    layout = write_layout(tmp_path)
    run("plan", layout, "--cell", "CR2016", "--no-pages", ok=0)
    run("plan", tmp_path / "harbour-layout-plan" / "plan.json", "--no-pages", ok=0)
    again = json.loads((tmp_path / "harbour-layout-plan" / "plan.json").read_text(encoding="utf-8"))
    assert again["settings"]["cell"] == "CR2016"


def test_limits_of_an_older_plan_that_are_no_table_are_named_not_passed_over(tmp_path):
    layout = write_layout(tmp_path)
    run("plan", layout, "--no-pages", ok=0)
    file = tmp_path / "harbour-layout-plan" / "plan.json"
    plan = json.loads(file.read_text(encoding="utf-8"))
    plan["settings"]["limits"] = "lots"
    file.write_text(json.dumps(plan), encoding="utf-8")
    code, _, errors = run("plan", file, "--limit", "lights-too-close=8mm")
    assert code == 4 and "settings.limits" in errors


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--card", "0x5in"], "card"),
        (["--square", "-3mm"], "-3mm"),
        (["--square", "wide"], "wide"),
        (["--turn", "45"], "turn"),
        (["--cell", "CR9999"], "CR9999"),
        (["--light", "9999"], "9999"),
        (["--colour", "infra-purple"], "infra-purple"),
        (["--colour", "L9=red"], "L9"),
        (["--limit", "lights-too-close"], "lights-too-close"),
        (["--limit", "lights-too-shy=3mm"], "lights-too-shy"),
        (["--foam", "a lot"], "a lot"),
    ],
)
def test_wrong_use_ends_with_2_and_names_what_was_typed(tmp_path, monkeypatch, capsys, arguments, words):
    layout = write_layout(tmp_path)
    monkeypatch.setattr(sys, "argv", ["pencilamp", "plan", str(layout), *arguments])
    with pytest.raises(SystemExit) as stopped:
        cli.main.run()
    assert stopped.value.code == 2
    trouble = capsys.readouterr().err
    assert words in trouble
    assert "Traceback" not in trouble
    assert not (tmp_path / "harbour-layout-plan").exists()


def test_a_read_only_place_is_said(photos, tmp_path, monkeypatch):
    # The tests may run as root, whom no permission stops; so the disk itself says no.
    import errno
    import os

    real = os.open

    def refuse(path, flags, *rest, **named):
        if flags & os.O_CREAT:
            raise OSError(errno.EROFS, "Read-only file system", str(path))
        return real(path, flags, *rest, **named)

    monkeypatch.setattr(os, "open", refuse)
    code, _, trouble = run("plan", photos / "easy.jpg", "--out", tmp_path / "o", "--no-pages")
    assert code == 4
    assert "read-only" in trouble
    assert not (tmp_path / "o").exists()


def test_help_has_an_example_that_works(photos, tmp_path, monkeypatch):
    _, text, _ = run("plan", "--help")
    example = next(line.split() for line in text.splitlines() if line.strip().startswith("pencilamp plan "))
    (tmp_path / "harbour.jpg").write_bytes((photos / "easy.jpg").read_bytes())
    monkeypatch.chdir(tmp_path)
    assert run(*example[1:])[0] == 0


def test_help_does_not_load_the_heavy_libraries():
    heavy = ("cv2", "scipy", "reportlab", "skimage", "shapely")
    code = (
        "import sys, cli.main\nsys.argv = ['pencilamp', '--help']\ntry:\n cli.main.run()\n"
        f"finally:\n print([name for name in {heavy} if name in sys.modules])"
    )
    finished = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert finished.stdout.strip().endswith("[]"), finished.stdout


def test_nothing_large_is_loaded_before_a_photo_is_opened():
    # A progressive JPEG of 210 megapixels needs the room.
    code = "import sys, cli.commands.plan_to_folder; print(sorted({'cv2', 'numpy', 'shapely'} & set(sys.modules)))"
    finished = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert finished.stdout.strip() == "[]"


def test_a_missing_system_library_is_one_sentence(photos, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "cv2", None)  # what importing it then raises is an ImportError
    code, _, trouble = run("plan", photos / "easy.jpg", "--out", tmp_path / "o")
    assert code == 4
    assert "libgl1" in trouble
    assert "Traceback" not in trouble


def test_the_drawn_photo_is_what_the_tests_think(photos):
    # The marker really is one that OpenCV reads: a drawing nobody can read would pass the refusal tests.
    picture = cv2.imread(str(photos / "easy.jpg"))
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    _, ids, _ = detector.detectMarkers(picture)
    assert ids is not None
    assert Path(photos / "bare.jpg").exists()


def test_spacing_is_listed_and_drawn_and_a_battery_place_named(tmp_path):
    _, text, _ = run("plan", write_layout(tmp_path), "--spacing", "--find-battery-place", "--no-pages", ok=0)
    assert "L1: 20.0 mm to L2" in text
    assert "best place for the cell" in text
    assert (tmp_path / "harbour-layout-plan" / "spacing.png").exists()
    run("plan", tmp_path / "harbour-layout.json", "--no-pages", ok=0)
    assert not (tmp_path / "harbour-layout-plan" / "spacing.png").exists()


def test_pages_of_an_earlier_try_do_not_stay_beside_a_new_plan(tmp_path):
    layout = write_layout(tmp_path)
    run("plan", layout, ok=0)
    run("plan", layout, "--no-pages", "--gap", "2mm", ok=0)
    assert {path.name for path in (tmp_path / "harbour-layout-plan").iterdir()} == {
        "plan.json",
        "overlay.png",
    }


def test_photos_in_folders_below_are_told_as_not_planned(photos, tmp_path):
    (tables := tmp_path / "class").mkdir()
    for folder in (tables, tables / "table 2"):
        folder.mkdir(exist_ok=True)
        shutil.copy(photos / "easy.jpg", folder / "easy.jpg")
    for _ in range(2):  # the second time, the first one's plan with its pictures is there as well
        _, text, _ = run("plan", tables, "--no-pages", ok=0)
        assert f"Not planned: the photos in {tables / 'table 2'}. Name" in " ".join(text.split())
    for named in ([tables / "table 2"], [tables, tables / "table 2"]):
        _, text, _ = run("plan", *named, "--no-pages", ok=0)
        assert "Not planned" not in text


def test_a_folder_stands_for_the_photos_in_it(photos, tmp_path):
    code, text, _ = run("plan", photos, "--out", tmp_path, "--no-pages")
    assert code == 3  # the highest of them all: one has no square
    assert {path.name for path in tmp_path.iterdir()} == {"easy-plan", "close-plan", "bare-plan"}
    assert text.rstrip().endswith("In all: 1 ready, 1 with something to fix, 1 not readable.")


def test_the_folder_of_a_plan_stands_for_the_plan(tmp_path):
    run("plan", write_layout(tmp_path), "--out", tmp_path / "first", "--no-pages", ok=0)
    run("plan", tmp_path / "first", "--no-pages", ok=0)
    assert (tmp_path / "first" / "before-1" / "plan.json").is_file()


def test_a_folder_without_a_photo_is_said(tmp_path, monkeypatch, capsys):
    (tmp_path / "notes.txt").write_text("tape", encoding="utf-8")
    monkeypatch.setattr(sys, "argv", ["pencilamp", "plan", str(tmp_path)])
    with pytest.raises(SystemExit) as stopped:
        cli.main.run()
    assert stopped.value.code == 4
    assert "no photo in this folder" in capsys.readouterr().err


@pytest.mark.parametrize("units", ["mm", "in"])
def test_lengths_without_a_unit_are_in_the_chosen_units(tmp_path, units):
    scale = 25.4 if units == "in" else 1.0
    # The units come last on purpose: their place in the line must not matter.
    run(
        "plan", write_layout(tmp_path), "--out", tmp_path / "out", "--no-pages",
        "--gap", f"{2.54 / scale:.3f}", "--limit", f"trace-near-edge={5.08 / scale:.3f}",
        "--limit", "folds-too-close.turn-deg=120", "--units", units,
    )  # fmt: skip
    kept = json.loads((tmp_path / "out" / "plan.json").read_bytes())["settings"]
    assert kept["gap_mm"] == pytest.approx(2.54, abs=1e-9)
    assert kept["limits"]["trace-near-edge"] == pytest.approx(5.08, abs=1e-9)  # rounding alone
    assert kept["limits"]["folds-too-close.turn-deg"] == 120


@pytest.mark.parametrize(
    ("typed", "units", "sides", "name"),
    [
        ("4.25x5.5", "in", (107.95, 139.7), None),
        ("105 x 148", None, (105.0, 148.0), None),
        ("105x148mm", "in", (105.0, 148.0), None),
        ("A2", None, None, "quarter-letter"),
        ("iso A7", None, None, "A7"),
        ("Quarter A4", None, None, "quarter-A4"),
        ("half-letter", None, None, "half-letter"),
    ],
)
def test_a_card_is_named_by_sides_or_by_its_everyday_name(typed, units, sides, name):
    found_sides, found_name = card_from(typed, units)
    assert found_name == name
    assert found_sides == (
        None if sides is None else pytest.approx(sides, abs=1e-9)  # rounding alone
    )  # rounding of 4.25 x 25.4


def test_a_name_that_two_cards_go_by_is_asked_about():
    with pytest.raises(UsageError, match=r"ISO-A7 .*5x7in"):
        card_from("A7")


def test_color_is_understood_as_well(tmp_path):
    run(
        "plan",
        write_layout(tmp_path),
        "--out",
        tmp_path / "out",
        "--no-pages",
        "--color",
        "red",
        "--colour",
        "L2=red",
    )
    assert json.loads((tmp_path / "out" / "plan.json").read_bytes())["settings"]["colour"] == "red"


def lights_of(folder):
    plan = json.loads((folder / "plan.json").read_bytes())
    return {light["label"]: (light["x_mm"], light["y_mm"]) for light in plan["lights"]}


def test_a_plan_is_changed_by_saying_so_and_the_photo_stays_behind_it(photos, tmp_path):
    photo = tmp_path / "close.jpg"
    photo.write_bytes((photos / "close.jpg").read_bytes())
    run("plan", photo, "--no-pages", "--colour", "L2=blue", ok=1)
    folder = tmp_path / "close-plan"
    before, drawn = lights_of(folder), (folder / "overlay.png").read_bytes()
    _, text, _ = run("plan", folder, "--apply-moves", "--move", "battery 1mm up", "--no-pages", ok=0)
    after = json.loads((folder / "plan.json").read_bytes())
    assert text.startswith("close.jpg: ") and "before-1" in text
    assert after["moves"] == [] and lights_of(folder) != before
    assert after["made_from"] == "close.jpg"  # still: it is that photo's plan, changed
    assert after["asked"]["colours"] == ["L2=blue"]
    assert (folder / "before-1" / "overlay.png").read_bytes() == drawn
    # Paper as photographed has grain; a card drawn without its photo is one flat colour.
    picture = np.asarray(Image.open(folder / "overlay.png").convert("L"), dtype=float)
    middle = picture[
        picture.shape[0] // 3 : picture.shape[0] // 2, picture.shape[1] // 3 : picture.shape[1] // 2
    ]
    assert len(np.unique(middle)) > 20


def test_lights_are_left_out_and_added(tmp_path):
    run("plan", write_layout(tmp_path), "--no-pages", "--drop", "l2", "--add", "1in,70mm", ok=0)
    assert lights_of(tmp_path / "harbour-layout-plan") == {"L1": (30.0, 60.0), "L2": (25.4, 70.0)}


def test_a_plan_whose_photo_is_gone_is_drawn_without_it(photos, tmp_path):
    photo = tmp_path / "easy.jpg"
    photo.write_bytes((photos / "easy.jpg").read_bytes())
    run("plan", photo, "--no-pages", ok=0)
    photo.write_bytes(b"something else by that name")
    _, text, _ = run("plan", tmp_path / "easy-plan", "--move", "L1 1mm left", "--no-pages", ok=0)
    assert "easy.jpg is not by this plan any more" in " ".join(text.split())


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--apply-moves"], "no suggested moves"),
        (["--move", "L9 1mm left"], "no light L9"),
        (["--move", "L1 one step left"], "--move"),
        (["--drop", "L7"], "no light L7"),
        (["--add", "30"], "--add"),
        (["--add", "300,42"], "off the card"),
    ],
)
def test_a_change_that_cannot_be_made_is_one_sentence(tmp_path, monkeypatch, capsys, arguments, words):
    monkeypatch.setattr(
        sys, "argv", ["pencilamp", "plan", str(write_layout(tmp_path)), "--no-pages", *arguments]
    )
    with pytest.raises(SystemExit) as stopped:
        cli.main.run()
    assert stopped.value.code == 2
    assert words in capsys.readouterr().err
    assert not (tmp_path / "harbour-layout-plan").exists()


@pytest.mark.parametrize(
    ("text", "line", "column", "hint"),
    [
        ('{"schema": "pencilamp/layout/1",\n "card": {"width_mm": 100,},\n}', 2, 27, "comma"),
        ('{"schema": "pencilamp/layout/1"\n "card": 1}', 2, 2, "missing"),
        ('{"schema": "pencilamp/layout/1",\n "lights": [', 2, 13, "closed"),
        ('{"schema": pencilamp}', 1, 12, "quotes"),
    ],
)
def test_a_broken_hand_edit_is_told_with_its_place(tmp_path, text, line, column, hint):
    path = tmp_path / "harbour.json"
    path.write_text(text, encoding="utf-8")
    code, _, trouble = run("plan", path)
    assert code == 4
    assert f"line {line}, column {column} " in trouble and hint in trouble


def test_a_card_without_problems_fits_a_screen(photos, tmp_path, monkeypatch):
    """A terminal's usual 24 rows of 80; more is said on request."""
    monkeypatch.setenv("COLUMNS", "80")
    _, text, _ = run("plan", photos / "easy.jpg", "--out", tmp_path / "out", ok=0)
    lines = text.splitlines()
    assert len(lines) <= 24, text
    # A path stays in one piece, to be copied, however long the folder's name is.
    assert all(len(line) <= 80 or str(tmp_path) in line for line in lines), text
    _, more, _ = run("plan", photos / "easy.jpg", "--out", tmp_path / "out", "--more", ok=0)
    assert len(more) > len(text)


def test_the_cautions_are_said_once_a_run(photos, tmp_path):
    _, text, _ = run("plan", photos / "easy.jpg", photos / "close.jpg", "--out", tmp_path, "--no-pages", ok=1)
    assert " ".join(text.split()).count("small children") == 1
