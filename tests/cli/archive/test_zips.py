"""Out into a zip and in again; strange zips are refused with one sentence and nothing written."""

import hashlib
import io
import json
import random
import stat
import struct
import zipfile

import pytest

from cli.archive import zip_rules
from cli.archive.bring_in import bring_in
from cli.archive.design_json import label_to_dict
from cli.archive.health import look_over
from cli.archive.questions import Wanted
from cli.archive.store import Archive
from cli.archive.take_out import lay_out, take_out
from cli.archive.zip_rules import BadZipError
from cli.file_trouble import FileTroubleError
from tests.cli.archive.made_up import (
    DEVICE,
    PLACE,
    files_of,
    made_up,
    made_up_plan,
    plan_bytes,
    tiny_jpeg,
)


@pytest.fixture
def archive(tmp_path):
    with Archive(tmp_path / "archive", writing=True) as opened:
        opened.keep(made_up("Earlier", shade=250))
        yield opened


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    """A zip of two designs, as bytes by name in their order."""
    place = tmp_path_factory.mktemp("good")
    with Archive(place / "archive", writing=True) as opened:
        designs = opened.keep_all(
            [made_up("Harbour", shade=1, tags=("class",), note="blue"), made_up("Harbour", shade=2)]
        )
        take_out(opened, designs, place / "good.zip", whole_photos=True, replace_it=False)
    with zipfile.ZipFile(place / "good.zip") as source:
        return place / "good.zip", {name: source.read(name) for name in source.namelist()}


def zipped(path, contents, squeeze=zipfile.ZIP_DEFLATED):
    with zipfile.ZipFile(path, "w", squeeze) as out:
        for name, data in contents.items():
            out.writestr(name, data)
    return path


def refused(archive, path, words=""):
    """Refused in one sentence of its own, nothing written anywhere."""
    designs, files = list(archive.every_design()), files_of(archive.folder.parent)
    with pytest.raises(BadZipError) as caught:
        bring_in(archive, path)
    message = str(caught.value)
    assert message.count("\n") == 0
    assert "nothing was brought in" in message
    assert words in message
    assert caught.value.exit_code == 4
    assert list(archive.every_design()) == designs
    assert files_of(archive.folder.parent) == files
    return message


def test_out_and_in_again_is_the_same(good, archive):
    brought = bring_in(archive, good[0])
    assert [design.title for design in brought.kept] == ["Harbour", "Harbour"]
    first = brought.kept[0]
    assert (first.tags, first.note) == (("class",), "blue")
    assert archive.read_file(first, first.file("photo")) == tiny_jpeg(1)
    assert not look_over(archive).bad
    assert not look_over(archive).leftovers


def test_the_same_zip_twice_adds_nothing(good, archive):
    brought = bring_in(archive, good[0])
    archive.remove(brought.kept[:1])
    again = bring_in(archive, good[0])
    assert again.kept == []
    assert [design.number for design in again.already] == [2, 3]
    assert again.already[0].removed is not None


def test_a_design_changed_elsewhere_comes_in_beside_the_own(good, archive, tmp_path):
    bring_in(archive, good[0])
    contents = with_plan(good[1], plan_bytes(made_up_plan(lights=5)))
    brought = bring_in(archive, zipped(tmp_path / "changed.zip", contents))
    assert [design.facts.lights for design in brought.kept] == [5]
    assert len(brought.already) == 1
    assert archive.count(Wanted()) == 4


def test_a_zip_made_again_by_hand_still_comes_in(good, archive, tmp_path):
    # Unpacked and packed again by a file manager: one folder more, entries for folders, its own files.
    contents = {f"my cards/{name}": data for name, data in good[1].items()}
    contents |= {"my cards/": b"", "my cards/Harbour/": b"", "my cards/.DS_Store": b"x", "__MACOSX/._a": b"x"}
    contents["my cards/Harbour/Thumbs.db"] = b"x"
    assert len(bring_in(archive, zipped(tmp_path / "again.zip", contents)).kept) == 2


def changed(contents, name="Harbour/design.json", **values):
    """The zip's contents with fields of one design.json changed."""
    label = json.loads(contents[name])
    return contents | {name: json.dumps(label | values).encode()}


def with_file(contents, name, data, **values):
    """With one more file, named in design.json."""
    label = json.loads(contents["Harbour/design.json"])
    item = {"name": name, "role": "other", "sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
    label["files"].append(item | values)
    return contents | {f"Harbour/{name}": data, "Harbour/design.json": json.dumps(label).encode()}


def with_plan(contents, data):
    """With another plan.json, its design.json in keeping with it."""
    label = json.loads(contents["Harbour/design.json"])
    label["files"][0] |= {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
    return contents | {"Harbour/plan.json": data, "Harbour/design.json": json.dumps(label).encode()}


NAMES = {
    "out of the folder": ("../evil.json", "out of its folder"),
    "out of a folder inside": ("Harbour/../../evil.json", "out of its folder"),
    "backslashes out": ("..\\..\\evil.json", "out of its folder"),
    "from the root": ("/etc/evil", "fixed place"),
    "from a share": ("\\\\host\\share\\evil", "fixed place"),
    "from a drive": ("C:\\evil", "fixed place"),
    "from a drive, slash": ("c:/evil", "fixed place"),
    "backslash inside": ("Harbour\\evil.json", "no file name may hold"),
    "a step on the spot": ("Harbour/./evil.json", "no file name"),
    "an empty step": ("Harbour//evil.json", "no file name"),
    "a line break": ("Harbour/ev\nil.json", "no file name may hold"),
    "a name turned round": ("Harbour/nosj.\u202elive", "no file name may hold"),
    "a device": ("Harbour/CON", "keep for themselves"),
    "a device with an ending": ("Harbour/lpt1.json", "keep for themselves"),
    "a second stream": ("Harbour/plan.json:evil", "no file name may hold"),
    "too long": (f"Harbour/{'x' * 240}.json", "too long"),
    "a dot at its end": ("Harbour/plan.json.", "no file name"),
}


@pytest.mark.parametrize(("name", "words"), NAMES.values(), ids=NAMES)
def test_names_that_lead_elsewhere(good, archive, tmp_path, name, words):
    refused(archive, zipped(tmp_path / "bad.zip", good[1] | {name: b"evil"}), words)
    assert not list(tmp_path.rglob("*evil*"))


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR, stat.S_IFBLK, stat.S_IFSOCK])
def test_links_and_devices(good, archive, tmp_path, kind):
    path = tmp_path / "bad.zip"
    with zipfile.ZipFile(path, "w") as out:
        for name, data in good[1].items():
            entry = zipfile.ZipInfo(name)
            if name.endswith("plan.json"):
                entry.external_attr, data = (kind | 0o777) << 16, b"/etc/passwd"
            out.writestr(entry, data)
    refused(archive, path, "link" if kind == stat.S_IFLNK else "no ordinary file")


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("twin", ["Harbour/plan.json", "harbour/PLAN.JSON", "Harbour/plan.json/"])
def test_names_that_are_there_twice(good, archive, tmp_path, twin):
    path = tmp_path / "bad.zip"
    with zipfile.ZipFile(path, "w") as out:
        for name, data in [*good[1].items(), (twin, b"")]:
            out.writestr(name, data)
    refused(archive, path, "twice")


BOMBS = {
    "one file": {"Harbour/swollen.pdf": bytes(80_000_000)},
    "a plan": {"Harbour/plan.json": b"[" + b" " * 60_000_000 + b"]"},
    "the label": {"Harbour/design.json": b"{" + b" " * 60_000_000 + b"}"},
}


@pytest.mark.parametrize("extra", BOMBS.values(), ids=BOMBS)
def test_small_zips_that_swell(good, archive, tmp_path, extra):
    path = zipped(tmp_path / "bad.zip", good[1] | extra)
    assert path.stat().st_size < 400_000
    refused(archive, path, "swell")


def test_files_that_share_their_bytes(good, archive, tmp_path):
    """Many entries of the list point at one and the same squeezed block."""
    path = zipped(tmp_path / "bad.zip", good[1] | {"Harbour/a.pdf": b"%PDF-" + bytes(90_000)})
    with zipfile.ZipFile(path, "a") as out:
        shared = out.getinfo("Harbour/a.pdf")
        for number in range(30):
            copy = zipfile.ZipInfo(f"Harbour/b{number}.pdf")
            for field in ("header_offset", "compress_size", "file_size", "CRC", "compress_type"):
                setattr(copy, field, getattr(shared, field))
            out.filelist.append(copy)
            out.NameToInfo[copy.filename] = copy
        out._didModify = True
    refused(archive, path, "across")


def swapped(contents, path, old, new):
    """A zip with some of its bytes changed."""
    zipped(path, contents)
    path.write_bytes(path.read_bytes().replace(old, new))


def flagged(contents, path):
    """A zip whose first file counts as encrypted: APPNOTE 6.3, section 4.4.4, bit 0 of the flags."""
    data = bytearray(zipped(path, contents).read_bytes())
    data[data.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(data)


def claiming(contents, path):
    """A zip whose end tells of a list of four gigabytes."""
    data = bytearray(zipped(path, contents).read_bytes())
    struct.pack_into("<L", data, data.rindex(b"PK\x05\x06") + 12, 0xFFFFFF00)
    path.write_bytes(data)


SWOLLEN = bytes(80_000_000)
ZIPS = {
    "a zero byte in a name": (
        lambda good, path: swapped(good | {"Harbour/evilXplan": b""}, path, b"evilXplan", b"evil\0plan"), "",
    ),
    "names that only look alike": (
        lambda good, path: zipped(
            path, with_file(good, "caf\u00e9.pdf", b"%PDF-1 a") | {"Harbour/cafe\u0301.pdf": b"%PDF-1 b"}
        ),
        "twice",
    ),
    "a file that hides how large it is": (
        lambda good, path: swapped(
            good | {"Harbour/swollen.pdf": SWOLLEN}, path, struct.pack("<L", 80_000_000), struct.pack("<L", 100)
        ),
        "",
    ),
    "a list that only claims to be long": (claiming, ""),
    "many files that swell a little each": (
        lambda good, path: zipped(path, good | {f"Harbour/{i}.pdf": bytes(999_999) for i in range(120)}), "would swell",
    ),
    "locked": (flagged, "password"),
    "squeezed by bzip2": (lambda good, path: zipped(path, good, zipfile.ZIP_BZIP2), "squeezed in a way"),
    "squeezed by lzma": (lambda good, path: zipped(path, good, zipfile.ZIP_LZMA), "squeezed in a way"),
    "a text": (lambda good, path: path.write_bytes(b"not a zip" * 50), "not a zip"),
    "empty": (lambda good, path: path.write_bytes(b""), "not a zip"),
    "a folder": (lambda good, path: path.mkdir(), "folder"),
    "nowhere": (lambda good, path: None, "no such file"),
    "of nothing": (lambda good, path: zipped(path, {}), "no design"),
    "of a photo": (lambda good, path: zipped(path, {"beach.jpg": tiny_jpeg()}), "no design"),
}  # fmt: skip


@pytest.mark.parametrize(("make", "words"), ZIPS.values(), ids=ZIPS)
def test_strange_zips(good, archive, tmp_path, make, words):
    make(good[1], tmp_path / "bad.zip")
    refused(archive, tmp_path / "bad.zip", words)


@pytest.mark.parametrize(
    ("limit", "most", "words"),
    [("MOST_FILES", 8, "more than 8 files"), ("MOST_LIST_BYTES", 300, "more than")],
)
def test_too_many_files(good, archive, tmp_path, monkeypatch, limit, most, words):
    monkeypatch.setattr(zip_rules, limit, most)
    refused(archive, zipped(tmp_path / "bad.zip", good[1]), words)


def test_a_disk_without_room(good, archive, monkeypatch):
    monkeypatch.setattr("shutil.disk_usage", lambda path: type("Usage", (), {"free": 1000})())
    refused(archive, good[0], "no room")


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.9, 0.99, 0.999])
def test_cut_short(good, archive, tmp_path, share):
    data = good[0].read_bytes()
    (tmp_path / "bad.zip").write_bytes(data[: int(len(data) * share)])
    refused(archive, tmp_path / "bad.zip", "cut short")


@pytest.mark.parametrize("seed", range(12))
def test_any_flipped_bit_is_noticed_or_does_no_harm(good, archive, tmp_path, seed):
    chance = random.Random(seed)
    for _ in range(8):
        data = bytearray(good[0].read_bytes())
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        (tmp_path / "bad.zip").write_bytes(data)
        before = list(archive.every_design())
        try:
            brought = bring_in(archive, tmp_path / "bad.zip")
        except BadZipError as error:
            assert str(error).count("\n") == 0
            assert list(archive.every_design()) == before
        else:  # a date, a flag that means nothing here: what came in is what was taken out
            for design in brought.kept:
                assert archive.read_file(design, design.file("plan")) == good[1]["Harbour/plan.json"]


def file_entry(**values):
    return {"files": [{"name": "plan.json", "role": "plan", "sha256": "0" * 64, "bytes": 1} | values]}


LABELS = {
    "a newer schema": ({"schema": "pencilamp/design/2"}, "schema"),
    "no schema": ({"schema": None}, "schema"),
    "no title": ({"title": ""}, "title"),
    "a title without end": ({"title": "x" * 5000}, "200 is the most"),
    "too many tags": ({"tags": [f"t{i}" for i in range(99)]}, "50 is the most"),
    "no identity": ({"identity": "12"}, "identity"),
    "no date": ({"kept": "yesterday"}, "kept"),
    "a date that never was": ({"kept": "2026-02-31T00:00:00Z"}, "kept"),
    "a date before all clocks": ({"kept": "999-01-01T00:00:00Z"}, "kept"),
    "a date before computers": ({"kept": "1969-12-31T00:00:00Z"}, "kept"),
    "a date after all clocks": ({"kept": "2526-01-01T00:00:00Z"}, "kept"),
    "a size without end": (file_entry(bytes=10**30), "bytes"),
    "files without end": ({"files": file_entry()["files"] * 2000}, "files"),
    "no files": ({"files": []}, "files"),
    "a file that leads out": (file_entry(name="../../x"), "file name"),
    "a file without content": (file_entry(sha256="zz"), "sha256"),
    "a file of no kind": (file_entry(role="recipe"), "role"),
    "a size that is none": (file_entry(bytes=-1), "bytes"),
    "no plan": (file_entry(name="x.pdf", role="other"), "plan.json"),
}  # fmt: skip


@pytest.mark.parametrize(("values", "words"), LABELS.values(), ids=LABELS)
def test_labels_that_make_no_sense(good, archive, tmp_path, values, words):
    refused(archive, zipped(tmp_path / "bad.zip", changed(good[1], **values)), words)


@pytest.mark.parametrize("data", [b"", b"[]", b"{", b"\xff\xfe", b"[" * 100_000, b'{"schema": NaN}', b"null"])
def test_labels_that_are_none(good, archive, tmp_path, data):
    refused(archive, zipped(tmp_path / "bad.zip", good[1] | {"Harbour/design.json": data}))


NO_PLANS = [
    b"",
    b"{}",
    b"[" * 100_000,
    plan_bytes(made_up_plan()).replace(b"plan/1", b"plan/2"),
    b'{"schema": "x"}',
]


@pytest.mark.parametrize("data", NO_PLANS, ids=["empty", "no plan", "nested", "newer", "other"])
def test_plans_that_are_none(good, archive, tmp_path, data):
    refused(archive, zipped(tmp_path / "bad.zip", with_plan(good[1], data)), "plan.json")


def test_files_that_are_not_what_is_said_of_them(good, archive, tmp_path):
    def bad(contents, words):
        refused(archive, zipped(tmp_path / "bad.zip", contents), words)

    bad(good[1] | {"Harbour/harbour.jpg": tiny_jpeg(77)}, "not what its design.json says")
    bad(good[1] | {"Harbour/harbour.jpg": b""}, "not what its design.json says")
    bad(good[1] | {"Harbour/guide.pdf": b"%PDF-1"}, "belongs to no design")
    bad(good[1] | {"stray.txt": b"hello"}, "belongs to no design")
    bad({name: data for name, data in good[1].items() if name != "Harbour/sheet.pdf"}, "missing")
    bad(with_file(good[1], "run.exe", b"MZ"), "not what its name says")
    bad(with_file(good[1], "guide.pdf", b"MZ"), "not what its name says")
    bad(with_file(good[1], "more.jpg", b"<html>", role="photo"), "not what its name says")
    bad(with_file(good[1], "more.png", tiny_jpeg(), role="overlay"), "not what its name says")
    bad(with_file(good[1], "PLAN.json", b"{}", role="plan"), "twice")
    bad(with_file(good[1], "second.json", plan_bytes(made_up_plan()), role="plan"), "several")
    other = next(name for name in good[1] if name.endswith("design.json") and name != "Harbour/design.json")
    same = json.loads(good[1]["Harbour/design.json"])["identity"]
    bad(changed(good[1], other, identity=same), "twice")


def test_one_bad_design_keeps_the_good_ones_out_too(good, archive, tmp_path):
    contents = dict(good[1])
    last = [name for name in contents if name.endswith("plan.json")][-1]
    refused(archive, zipped(tmp_path / "bad.zip", contents | {last: b"{}"}))


def test_photos_go_out_without_place_and_device_unless_asked(archive, tmp_path):
    designs = list(archive.find(Wanted()))
    for whole in (False, True):
        path = tmp_path / f"out-{whole}.zip"
        taken = take_out(archive, designs, path, whole_photos=whole, replace_it=False)
        assert (taken.designs, taken.photos, taken.left_behind) == (1, 1, [])
        with zipfile.ZipFile(path) as source:
            every_byte = b"".join(source.read(name) for name in source.namelist())
            photo = source.read("Earlier/harbour.jpg")
        assert (DEVICE.encode() in every_byte) == whole
        assert (PLACE.encode() in every_byte) == whole
        assert (photo == tiny_jpeg(250)) == whole
        with Archive(tmp_path / f"in-{whole}", writing=True) as other:
            assert len(bring_in(other, path).kept) == 1


def test_a_photo_that_cannot_be_cleaned_stays_behind(archive, tmp_path):
    design = made_up("Odd")
    odd = [file for file in design.files if file.role != "photo"]
    from cli.archive.kept_design import NewFile

    odd.append(NewFile("odd.bmp", "photo", lambda: io.BytesIO(b"BM" + bytes(100))))
    kept = archive.keep(type(design)("Odd", design.facts, tuple(odd)))
    taken = take_out(archive, [kept], tmp_path / "odd.zip", whole_photos=False, replace_it=False)
    assert taken.photos == 0
    assert "odd.bmp of Odd (number 2) is left behind" in taken.left_behind[0]
    assert "--whole-photos" in taken.left_behind[0]
    assert not taken.damaged
    with zipfile.ZipFile(tmp_path / "odd.zip") as source:
        assert "Odd/odd.bmp" not in source.namelist()
    taken = take_out(archive, [kept], tmp_path / "odd.zip", whole_photos=True, replace_it=True)
    assert taken.photos == 1


def test_damaged_files_stay_behind_and_the_rest_goes_out(archive, tmp_path):
    one, two = archive.keep_all([made_up("One", shade=5), made_up("Two", shade=6)])
    archive.shelf.path(one.file("photo").sha256).write_bytes(b"spoilt")
    taken = take_out(archive, [one, two], tmp_path / "out.zip", whole_photos=True, replace_it=False)
    assert taken.damaged
    assert "harbour.jpg of One" in taken.left_behind[0]
    with Archive(tmp_path / "other", writing=True) as other:
        assert len(bring_in(other, tmp_path / "out.zip").kept) == 2
    archive.shelf.path(one.file("plan").sha256).unlink()  # which both share
    with pytest.raises(FileTroubleError, match="Nothing was taken out"):
        take_out(archive, [one], tmp_path / "none.zip", whole_photos=True, replace_it=False)
    assert not (tmp_path / "none.zip").exists()
    assert not list(tmp_path.glob(".pencilamp*"))


def test_a_zip_that_is_there_is_not_written_over(archive, tmp_path):
    path = tmp_path / "mine.zip"
    path.write_bytes(b"mine")
    designs = list(archive.find(Wanted()))
    with pytest.raises(FileTroubleError, match="--force"):
        take_out(archive, designs, path, whole_photos=False, replace_it=False)
    assert path.read_bytes() == b"mine"
    take_out(archive, designs, path, whole_photos=False, replace_it=True)
    assert zipfile.is_zipfile(path)


def test_names_in_a_zip_are_ones_that_every_system_takes(archive, tmp_path):
    titles = ["a/b: c?", "CON", "..", "a/b: c?", "A-B- C-", "灯" * 100]
    designs = archive.keep_all([made_up(title, shade=i) for i, title in enumerate(titles)])
    take_out(archive, designs, tmp_path / "out.zip", whole_photos=False, replace_it=False)
    with Archive(tmp_path / "other", writing=True) as other:
        brought = bring_in(other, tmp_path / "out.zip")
    assert [design.title for design in brought.kept] == [design.title for design in designs]


def test_a_design_laid_into_a_folder_is_whole(archive, tmp_path):
    (design,) = archive.find(Wanted())
    lay_out(archive, design, tmp_path / "laid", whole_photos=False, replace_it=False)
    names = {path.name for path in (tmp_path / "laid").iterdir()}
    assert names == {"plan.json", "overlay.png", "sheet.pdf", "harbour.jpg", "design.json"}
    label = json.loads((tmp_path / "laid" / "design.json").read_bytes())
    for file in label["files"]:
        data = (tmp_path / "laid" / file["name"]).read_bytes()
        assert hashlib.sha256(data).hexdigest() == file["sha256"]
    assert label["identity"] == label_to_dict(design)["identity"]
    assert DEVICE.encode() not in (tmp_path / "laid" / "harbour.jpg").read_bytes()
    with pytest.raises(FileTroubleError, match="already there"):
        lay_out(archive, design, tmp_path / "laid", whole_photos=False, replace_it=False)
