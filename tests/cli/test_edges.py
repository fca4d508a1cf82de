"""At the edges: no hang, no flood of memory, one sentence, the right exit code, whatever is typed or lies there."""

import json
import math
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import cli.unexpected
from circuit import glow
from circuit.errors import PencilampError, UsageError
from circuit.visible import LONGEST_SENTENCE, visible
from cli.archive.printed import table
from cli.plan_file import read_plan
from cli.plan_options import card_from
from tests.cli.archive.made_up import made_up
from tests.cli.commands.test_plan import LAYOUT, run
from vision.reading import photo as photo_module
from vision.reading.photo import PhotoFileError, open_photo

ROOT = Path(__file__).parents[2]
posix = pytest.mark.skipif(sys.platform == "win32", reason="no pipes, devices or such signals there")


def ran(*arguments, place, code=None, **env):
    """The command from outside; its exit code and output as bytes. No case may take long."""
    finished = subprocess.run(
        [sys.executable, "-m", "cli.main", *map(str, arguments)],
        capture_output=True,
        check=False,
        cwd=place,
        timeout=120,  # a hang, not a slow machine
        env={**os.environ, "PYTHONPATH": str(ROOT), "PENCILAMP_ARCHIVE": str(place / "archive"), **env},
    )
    assert b"Traceback" not in finished.stderr
    assert b"inside Pencilamp" not in finished.stderr + finished.stdout
    if code is not None:
        assert finished.returncode == code, finished.stderr
    return finished


def refused(*arguments, place, code=4, **env):
    finished = ran(*arguments, place=place, code=code, **env)
    lines = [
        line for line in finished.stderr.decode().splitlines() if not line.endswith(" ...")
    ]  # what it is at
    assert len(lines) == 1, lines
    return lines[0]


@posix
@pytest.mark.parametrize(
    "arguments",
    [
        ("plan", "pipe.json"), ("plan", "pipe.jpg"), ("plan", "/dev/zero"), ("sheet", "pipe.json"),
        ("plan", "layout.json", "--parts", "/dev/zero"), ("plan", "layout.json", "--parts", "pipe.json"),
        ("archive", "keep", "pipe.json"), ("archive", "bring-in", "pipe.json"),
        ("plan", "huge.jpg"), ("plan", "huge.json"), ("plan", "layout.json", "--parts", "huge.json"),
        ("plan", f"{'n' * 300}.jpg"), ("plan", "layout.json", "--out", "n" * 300), ("sheet", "n" * 300),
        ("square", "--out", "pipe.pdf", "--force"), ("square", "--out", "pipe.json", "--force"),
        ("plan", "none\x1b[31m.jpg"), ("plan", "\udcff.jpg"), ("plan", "\udcff.json"),
    ],
)  # fmt: skip
def test_pipes_devices_and_names_end_in_one_sentence(tmp_path, arguments):
    os.mkfifo(tmp_path / "pipe.json")
    os.mkfifo(tmp_path / "pipe.jpg")
    os.mkfifo(tmp_path / "pipe.pdf")
    (tmp_path / "layout.json").write_text(json.dumps(LAYOUT))
    for name in ("huge.jpg", "huge.json"):
        with (tmp_path / name).open("wb") as file:
            file.truncate(8_000_000_000)  # sparse: takes no room
    text = refused(*arguments, place=tmp_path)
    assert "\x1b" not in text
    assert (tmp_path / "pipe.json").is_fifo() and (tmp_path / "pipe.pdf").is_fifo()
    assert not (tmp_path / "pipe.json.pdf").exists()


CROWDS = {
    "lights": {"lights": [{"x_mm": 5.0 + i % 90, "y_mm": 5.0 + i / 10} for i in range(500)]},
    "window": {
        "window": [[50 + 40 * math.cos(t / 1e4), 60 + 40 * math.sin(t / 1e4)] for t in range(100_000)]
    },
    "drawn_lines": {
        "drawn_lines": [{"points": [[i % 100, i % 90] for i in range(100_000)], "polarity": None}]
    },
    "a number": {"card": {"width_mm": 10**200, "height_mm": 100}},
}


@pytest.mark.parametrize("crowd", CROWDS.values(), ids=CROWDS)
@pytest.mark.parametrize("command", ["plan", "keep"])
def test_crowds_are_told_at_once(tmp_path, crowd, command):
    (tmp_path / "card.json").write_text(json.dumps({**LAYOUT, **crowd}))
    begun = time.monotonic()
    refused(*(("archive", "keep") if command == "keep" else (command,)), "card.json", place=tmp_path)
    assert time.monotonic() - begun < 60  # at once, on however slow a machine


@posix
def test_a_folder_that_may_not_be_entered(tmp_path):
    if os.geteuid() == 0:
        pytest.skip("root may enter any folder")
    (tmp_path / "shut").mkdir(mode=0)
    for command in ("plan", "sheet"):
        refused(command, "shut/photo.jpg", place=tmp_path)


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_an_encoding_that_lacks_a_letter_stops_nothing(tmp_path, encoding):
    (tmp_path / "灯台 é.json").write_text(json.dumps(LAYOUT))
    env = {"PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    finished = ran(
        "plan", "灯台 é.json", "--no-pages", "--keep", "灯台 \x1b[31m", place=tmp_path, code=0, **env
    )
    # Where the encoding is no more than ASCII, click writes UTF-8 all the same.
    letter = "灯".encode() if encoding == "ascii" else b"\\u706f"
    assert letter in finished.stdout
    finished = ran("archive", "list", place=tmp_path, code=0, **env)
    assert letter in finished.stdout
    assert b"\x1b" not in finished.stdout


def test_control_characters_become_signs_that_are_seen():
    assert visible("a\x1b[31mb\x07\n\x7f\x9b\u202e\udcff") == "a␛[31mb␇␊␡\ufffd\ufffd\ufffd"
    assert visible("a\n\tb\r", lines=True) == "a\n\tb␍"
    assert visible("灯台 café 🎉 ½") == "灯台 café 🎉 ½"


def test_a_refusal_of_a_file_full_of_words_is_short_enough_to_read(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    for value in ({"schema": ["x" * 5000] * 9}, {"schema": "x" * 70_000}):
        path.write_text(json.dumps(value))
        with pytest.raises(PencilampError) as refused:
            read_plan(path)
        assert str(refused.value).startswith(str(path)) and len(str(refused.value)) < 400
    long = str(PencilampError("card.json: " + "x" * 70_000 + ". Name another file."))
    assert (
        len(long) == LONGEST_SENTENCE and long.startswith("card.json: x") and long.endswith("another file.")
    )
    assert str(UsageError("no \x1b]0;title")) == "no ␛]0;title"


@posix
@pytest.mark.parametrize("after_s", [0.02, 0.3, 1.0])
def test_ctrl_c_ends_in_one_line(tmp_path, after_s):
    (tmp_path / "card.json").write_text(json.dumps(LAYOUT))
    code = "import cli.start\ncli.start.run()"
    child = subprocess.Popen(
        [sys.executable, "-c", f"print('up', flush=True)\n{code}", "plan", "card.json"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert child.stdout.readline() == b"up\n"
    time.sleep(after_s)
    child.send_signal(signal.SIGINT)
    _, trouble = child.communicate(timeout=120)
    lines = [line for line in trouble.decode().splitlines() if not line.endswith(" ...")]  # what it is at
    assert (child.returncode, lines) in ((130, ["Stopped."]), (0, [])), trouble
    assert not list(tmp_path.rglob(".pencilamp-*"))


@posix
@pytest.mark.parametrize(("code", "waits"), [(130, False), (0, True)])
def test_only_a_stopped_command_ends_before_its_threads(code, waits):
    work = "(time.sleep(2), print('done'))"
    at_work = f"import threading, time, cli.start\nthreading.Thread(target=lambda: {work}).start()"
    told = subprocess.run(
        [sys.executable, "-c", f"{at_work}\ncli.start._leave({code})\nraise SystemExit({code})"],
        capture_output=True, text=True, env={**os.environ, "PYTHONPATH": str(ROOT)}, timeout=60, check=False,
    )  # fmt: skip
    assert (told.returncode, told.stdout.strip(), told.stderr) == (code, "done" if waits else "", "")


@posix
@pytest.mark.parametrize(("name", "code"), [("clean.json", 0), ("close.json", 1)])
def test_a_reader_that_goes_away_changes_no_exit_code(tmp_path, name, code):
    first = LAYOUT["lights"][0]
    close = {**LAYOUT, "lights": [*LAYOUT["lights"], {**first, "label": "L9", "x_mm": first["x_mm"] + 3.0}]}
    (tmp_path / name).write_text(json.dumps(close if code else LAYOUT))
    for arguments, expected in (
        (["plan", name, "--no-pages"], code),
        (["plan", "--help"], 0),
        (["parts"], 0),
    ):
        child = subprocess.Popen(
            [sys.executable, "-m", "cli.start", *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        with child.stderr:
            child.stdout.close()
            trouble = child.stderr.read().decode()
        assert child.wait(timeout=120) == expected, trouble
        assert "Traceback" not in trouble and "Exception" not in trouble and "went wrong" not in trouble


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a disk that is always full")
@pytest.mark.parametrize(
    "arguments",
    [["plan", "card.json", "--no-pages", "--out", "made"], ["--help"], ["parts"]],
    ids=lambda a: a[0],
)
def test_a_full_disk_under_standard_output_is_told_in_one_sentence(tmp_path, arguments):
    (tmp_path / "card.json").write_text(json.dumps(LAYOUT))
    with Path("/dev/full").open("w") as full:
        told = subprocess.run(
            [sys.executable, "-m", "cli.start", *arguments], stdout=full, stderr=subprocess.PIPE,
            cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, timeout=120, check=False,
        )  # fmt: skip
    lines = [line for line in told.stderr.decode().splitlines() if not line.endswith(" ...")]  # what it is at
    assert told.returncode == 4
    assert " ".join(lines).startswith("The text that belongs here could not be written")
    assert (tmp_path / "made" / "plan.json").exists() == (arguments[0] == "plan")


@pytest.mark.parametrize("year", [1901, 2526])
def test_clocks_that_are_far_off(tmp_path, year):
    (tmp_path / "card.json").write_text(json.dumps(LAYOUT))
    code = f"""
import datetime, sys, time
offset = ({year} - 2026) * 31556952
real, gm, local = time.time, time.gmtime, time.localtime
time.time = lambda: real() + offset
time.gmtime = lambda *a: gm(*(a or (time.time(),)))
time.localtime = lambda *a: local(*(a or (time.time(),)))
class Far(datetime.datetime):
    @classmethod
    def now(cls, tz=None):
        return cls.fromtimestamp(0, tz).replace(year={year})
datetime.datetime = Far
import cli.main
cli.main.run()
"""
    for arguments in (
        ("plan", "card.json", "--keep", "Far off"),
        ("archive", "list"),
        ("archive", "take-out", "--all", "--to", "out.zip"),
        ("archive", "mend"),
    ):
        finished = subprocess.run(
            [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=False, cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(ROOT), "PENCILAMP_ARCHIVE": str(tmp_path / "archive")},
        )  # fmt: skip
        assert "inside Pencilamp" not in finished.stderr + finished.stdout, (arguments, finished.stderr)
        assert "Traceback" not in finished.stderr, finished.stderr
        assert finished.returncode in (0, 4), (arguments, finished.stderr)


@posix
def test_what_libraries_say_of_a_damaged_photo_stays_off_the_screen(tmp_path):
    rng = np.random.default_rng(1)
    Image.fromarray(rng.integers(0, 255, (900, 700, 3), dtype=np.uint8)).save(tmp_path / "whole.jpg")
    data = (tmp_path / "whole.jpg").read_bytes()
    (tmp_path / "cut.jpg").write_bytes(data[: len(data) // 2])
    (tmp_path / "spoilt.jpg").write_bytes(data[:5000] + bytes(300) + data[5300:])
    Image.fromarray(rng.integers(0, 255, (90, 70, 3), dtype=np.uint8)).save(
        tmp_path / "a.tif", compression="tiff_lzw"
    )
    spoilt = bytearray((tmp_path / "a.tif").read_bytes())
    spoilt[200:260] = bytes(60)
    (tmp_path / "spoilt.tif").write_bytes(spoilt)
    for name in ("cut.jpg", "spoilt.jpg", "spoilt.tif"):
        finished = ran("plan", name, place=tmp_path)
        assert finished.returncode in (3, 4)
        lines = [line for line in finished.stderr.decode().splitlines() if not line.endswith(" ...")]
        assert len(lines) == 1, lines


def test_large_photos_are_reduced_while_they_are_opened_or_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(photo_module, "_MOST", {"JPEG": 4_000_000})
    monkeypatch.setattr(photo_module, "MOST_PIXELS_WHOLE", 2_000_000)
    picture = Image.new("RGB", (2000, 1500), "white")
    for name in ("a.jpg", "a.png", "a.tif", "a.webp"):
        picture.save(tmp_path / name)
        if name == "a.jpg":
            assert open_photo(tmp_path / name).pixels.shape[2] == 3
        else:
            with pytest.raises(PhotoFileError, match="too large"):
                open_photo(tmp_path / name)
    monkeypatch.setattr(photo_module, "MOST_COEFFICIENT_BYTES", 1_000_000)
    picture.save(tmp_path / "p.jpg", progressive=True)
    with pytest.raises(PhotoFileError, match="too large"):
        open_photo(tmp_path / "p.jpg")


def test_opencv_that_does_not_load_is_told_in_one_sentence(tmp_path):
    (tmp_path / "cv2.py").write_text("raise ImportError('libGL.so.1: cannot open shared object file')")
    Image.new("RGB", (200, 150), "white").save(tmp_path / "card.jpg")
    path = f"{tmp_path}{os.pathsep}{ROOT}"
    finished = ran("plan", "card.jpg", place=tmp_path, code=4, PYTHONPATH=path)
    assert b"libGL.so.1" in finished.stderr and b"apt-get" in finished.stderr


def test_a_card_too_large_for_pages_is_told_before_it_is_planned(tmp_path, monkeypatch):
    monkeypatch.setattr("circuit.plan_card.plan_as_drawn", None)
    layout = {**LAYOUT, "card": {"width_mm": 1900.0, "height_mm": 1900.0}}
    (tmp_path / "wall.json").write_text(json.dumps(layout))
    code, _, trouble = run("plan", tmp_path / "wall.json")
    assert code == 2 and "--no-pages" in trouble
    assert [path.name for path in tmp_path.iterdir()] == ["wall.json"]


@pytest.mark.parametrize(("side_mm", "most_points"), [(150.0, 300**2), (1900.0, 600**2)])
def test_the_glow_of_a_huge_card_is_drawn_from_a_modest_grid(tmp_path, monkeypatch, side_mm, most_points):
    asked, real = [], glow.glow_field

    def counted(*arguments, **named):
        asked.append(real(*arguments, **named))
        return asked[-1]

    monkeypatch.setattr(glow, "glow_field", counted)
    corner = side_mm - 5
    layout = {**LAYOUT, "card": {"width_mm": side_mm, "height_mm": side_mm}}
    layout["window"] = [[5, 5], [corner, 5], [corner, corner], [5, corner]]
    (tmp_path / "wall.json").write_text(json.dumps(layout))
    run("plan", tmp_path / "wall.json", "--no-pages", "--glow")
    assert 0.85 * most_points < max(one.inside.size for one in asked) <= most_points


@pytest.mark.parametrize("width", [40, 60, 80])
def test_tables_fit_the_terminal(width):
    designs = [made_up("A very long title of a card that goes on for ever", days_ago=i) for i in range(3)]
    from cli.archive.kept_design import Design, KeptFile

    kept = [
        Design(
            number=10**9 + i,
            identity=one.identity,
            title=one.title,
            tags=(),
            note="",
            kept=one.kept,
            facts=one.facts,
            files=(KeptFile("a", "plan", "0" * 64, 1),),
        )
        for i, one in enumerate(designs)
    ]
    assert all(len(line) <= width for line in table(kept, width))


@pytest.mark.parametrize(
    "text", ["9" * 5000, f"{'9' * 5000}x5in", f"{'9' * 5000}/{'9' * 5000}in", "x" * 5000]
)
def test_sizes_of_thousands_of_digits_are_refused_at_once(text):
    with pytest.raises(UsageError, match="no card's size"):
        card_from(text)


def test_the_programs_own_trouble_is_one_sentence(monkeypatch):
    monkeypatch.delenv(cli.unexpected.DEBUG_VARIABLE, raising=False)
    for error in (KeyError("a\nb"), MemoryError(), PencilampError("x\x1b")):
        assert "\n" not in cli.unexpected.unexpected_error_sentence(error, "at work")
