"""Photos without what the camera wrote: every pixel the same, no trace of place or device in any byte; what is hidden
elsewhere in them: tests/attacks/planted.py."""

import io
import random
import struct

import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageCms

from cli.archive import privacy
from cli.archive.colour_profile import own_profile
from cli.archive.privacy import CantStripError, strip_photo
from tests.pictures import assert_alike
from vision.reading.photo import open_photo

pillow_heif.register_heif_opener()
MARKS = (
    b"Campfire Phone",
    b"Lens of Seven",
    b"52 deg 22",
    b"2026:01:02",
    b"Harbour Software",
    b"Moor Street",
)
ORIENTATION, SUB_IFD, FOCAL, GPS = 0x0112, 0x8769, 0xA405, 0x8825


def exif():
    """What phones write (tags: Exif 2.32, sections 4.6.4 to 4.6.6), with words that can be looked for."""
    value = Image.Exif()
    value[0x010F], value[0x0110], value[0x0131] = "Campfire Phone", "Campfire Phone 7", "Harbour Software 1"
    value[ORIENTATION], value[0x0132] = 6, "2026:01:02 03:04:05"
    sub = value.get_ifd(SUB_IFD)
    sub[FOCAL], sub[0xA434], sub[0x9003] = 28, "Lens of Seven", "2026:01:02 03:04:05"
    gps = value.get_ifd(GPS)
    gps[1], gps[2], gps[0x1B] = "N", (52.0, 22.0, 12.5), b"52 deg 22 min"
    return value


def picture(size=(70, 50)):
    rng = np.random.default_rng(3)
    smooth = Image.fromarray(rng.integers(0, 255, (9, 9, 3), dtype=np.uint8))
    return smooth.resize(size, Image.Resampling.BICUBIC)


def saved(kind, **how):
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    buffer = io.BytesIO()
    given = exif() if kind == "TIFF" else exif().tobytes()
    image = how.pop("image", None) or picture()
    image.save(buffer, kind, exif=given, icc_profile=profile, **how)
    return buffer.getvalue()


PHOTOS = {
    "jpeg": lambda: saved("JPEG"),
    "jpeg, progressive": lambda: saved("JPEG", progressive=True, quality=95, subsampling=0),
    "jpeg, grey": lambda: saved("JPEG", image=picture().convert("L")),
    "jpeg, cmyk": lambda: saved("JPEG", image=picture().convert("CMYK")),
    "jpeg, restarts": lambda: saved("JPEG", restart_marker_blocks=2),
    "png": lambda: saved("PNG"),
    "png, palette": lambda: saved("PNG", image=picture().convert("P")),
    "png, alpha": lambda: saved("PNG", image=picture().convert("RGBA")),
    "webp": lambda: saved("WEBP", quality=80, xmp=b"<x>Moor Street</x>"),
    "webp, lossless": lambda: saved("WEBP", lossless=True),
    "webp, alpha": lambda: saved("WEBP", image=picture().convert("RGBA")),
    "tiff": lambda: saved("TIFF"),
    "tiff, lzw": lambda: saved("TIFF", compression="tiff_lzw"),
    "tiff, deflate": lambda: saved("TIFF", compression="tiff_adobe_deflate"),
    "tiff, jpeg": lambda: saved("TIFF", compression="jpeg"),
    "tiff, palette": lambda: saved("TIFF", image=picture().convert("P")),
    "tiff, 16 bit": lambda: saved("TIFF", image=picture().convert("I;16")),
    "tiff, two pages": lambda: saved("TIFF", save_all=True, append_images=[picture((9, 9))]),
    "heic": lambda: saved("HEIF", quality=70),
    "heic, large": lambda: saved("HEIF", image=picture((900, 700)), quality=50),
    "avif": lambda: saved("AVIF"),
}


def test_a_picture_is_of_the_kind_that_is_said():
    for kind, start, ending in (
        ("JPEG", b"\xff\xd8", ".jpg"),
        ("PNG", b"\x89PNG", ".png"),
        ("HEIF", b"\x89PNG", ".png"),
    ):
        stripped = strip_photo(saved(kind))
        assert stripped.data.startswith(start)
        assert stripped.ending == ending


@pytest.mark.parametrize("make", PHOTOS.values(), ids=PHOTOS)
def test_nothing_of_place_or_device_is_left_and_the_card_is_read_as_before(make, tmp_path, request):
    data = make()
    assert any(mark in data for mark in MARKS), "there is nothing to leave out"
    clean = strip_photo(data).data
    assert [mark for mark in MARKS if mark in clean] == []
    assert b"Copyright" not in clean  # the colour profile's
    with Image.open(io.BytesIO(clean)) as opened:
        tags = opened.getexif()
        assert set(tags) <= {ORIENTATION, SUB_IFD}
        assert set(tags.get_ifd(SUB_IFD)) <= {FOCAL}
    # The same pixels, the same way up, the same lens: what `open_photo` hands on.
    (tmp_path / "before").write_bytes(data)
    (tmp_path / "after").write_bytes(clean)
    before, after = open_photo(tmp_path / "before"), open_photo(tmp_path / "after")
    assert_alike(f"stripped-{request.node.callspec.id}", after.pixels, before.pixels)
    assert after.focal_35mm == before.focal_35mm


@pytest.mark.parametrize("make", [PHOTOS["jpeg"], PHOTOS["png"], PHOTOS["webp"], PHOTOS["heic"]])
def test_the_lens_is_kept(make, tmp_path):
    (tmp_path / "photo").write_bytes(strip_photo(make()).data)
    assert open_photo(tmp_path / "photo").focal_35mm == 28


def test_a_jpegs_coefficients_are_the_same_as_before():
    # Decoded without any smoothing of colours, equal pixels can only come from equal coefficients.
    for number, how in enumerate(({}, {"progressive": True}, {"quality": 30}, {"subsampling": 0})):
        data = saved("JPEG", **how)
        before, after = (Image.open(io.BytesIO(one)) for one in (data, strip_photo(data).data))
        assert after.quantization == before.quantization
        assert_alike(f"stripped-jpeg-{number}", after, before)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "HEIF", "TIFF"])
@pytest.mark.parametrize("space", ["sRGB", "display-p3", "grey"])
def test_what_the_colours_mean_is_kept(kind, space):
    if space == "sRGB":
        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    else:  # primaries of SMPTE EG 432-1, adapted to D50; a curve with 1024 steps
        profile = wide_profile(grey=space == "grey")
    image = picture().convert("L") if space == "grey" else picture()
    buffer = io.BytesIO()
    image.save(buffer, kind, icc_profile=profile)
    clean = Image.open(io.BytesIO(strip_photo(buffer.getvalue()).data))
    if kind == "HEIF" and space == "grey":
        return  # the reader makes it colour, for which a grey profile has no meaning
    own = clean.info["icc_profile"]
    assert b"Moor" not in own
    srgb = ImageCms.createProfile("sRGB")
    wanted, got = (
        np.asarray(ImageCms.profileToProfile(image, io.BytesIO(one), srgb, outputMode="RGB"), dtype=int)
        for one in (profile, own)
    )
    assert np.abs(wanted - got).max() <= 1  # rounding to 8 bits


def wide_profile(grey):
    def tag(kind, *numbers):
        return (
            kind + bytes(4) + struct.pack(f">{len(numbers)}l", *(round(number * 65536) for number in numbers))
        )

    curve = (
        b"curv"
        + bytes(4)
        + struct.pack(">L1024H", 1024, *(round((i / 1023) ** 2.2 * 65535) for i in range(1024)))
    )
    tags = {
        b"wtpt": tag(b"XYZ ", 0.9642, 1.0, 0.8249),
        b"desc": b"text" + bytes(4) + b"Moor Street\0",
        b"cprt": b"text" + bytes(4) + b"Moor\0",
    }
    if grey:
        tags[b"kTRC"] = curve
    else:
        for name, xyz in (
            (b"r", (0.5151, 0.2412, -0.0011)),
            (b"g", (0.2919, 0.6922, 0.0419)),
            (b"b", (0.1571, 0.0666, 0.7841)),
        ):
            tags[name + b"XYZ"], tags[name + b"TRC"] = tag(b"XYZ ", *xyz), curve
    table, body, at = b"", b"", 132 + 12 * len(tags)
    for name, data in tags.items():
        table += name + struct.pack(">2L", at + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    space = b"GRAY" if grey else b"RGB "
    head = struct.pack(
        ">L4sL4s4s4s12x4s28x12s48x",
        at + len(body),
        b"Moor",
        0x02400000,
        b"mntr",
        space,
        b"XYZ ",
        b"acsp",
        tag(b"", 0.9642, 1.0, 0.8249)[4:],
    )
    return head + struct.pack(">L", len(tags)) + table + body


def test_a_profile_that_makes_no_sense_is_left_out():
    good = wide_profile(grey=False)
    text = good.replace(b"\x80", b"A")
    for bad in (None, b"", good[:90], good[:140], b"\xff" * 5000, text, good.replace(b"XYZ \0", b"mluc\0")):
        assert own_profile(bad) is None
    assert own_profile(good) is not None


@pytest.mark.parametrize("order", ["<", ">"])
def test_a_tiff_written_by_hand(order, tmp_path):
    # With a sub-directory for the lens, which Pillow does not write.
    def field(tag, kind, count, value):
        packed = (
            struct.pack(f"{order}HH", value, 0)
            if kind == 3 and count == 1
            else struct.pack(f"{order}L", value)
        )
        return struct.pack(f"{order}HHL", tag, kind, count) + packed

    maker = b"Campfire Phone\0"
    entries = [
        field(256, 3, 1, 4), field(257, 3, 1, 2), field(258, 3, 1, 8), field(259, 3, 1, 1), field(262, 3, 1, 1),
        field(271, 2, len(maker), 400), field(273, 4, 1, 500), field(274, 3, 1, 3), field(277, 3, 1, 1),
        field(278, 3, 1, 2), field(279, 4, 1, 8), field(SUB_IFD, 4, 1, 300),
    ]  # fmt: skip
    data = bytearray(508)
    data[:8] = (b"II" if order == "<" else b"MM") + struct.pack(f"{order}HL", 42, 8)
    main = struct.pack(f"{order}H", len(entries)) + b"".join(entries) + bytes(4)
    data[8 : 8 + len(main)] = main
    sub = struct.pack(f"{order}H", 2) + field(FOCAL, 3, 1, 26) + field(0xA434, 2, len(maker), 420) + bytes(4)
    data[300 : 300 + len(sub)] = sub
    data[400 : 400 + len(maker)] = data[420 : 420 + len(maker)] = maker
    data[500:508] = bytes(range(10, 90, 10))
    clean = strip_photo(bytes(data)).data
    assert b"Campfire" not in clean
    for name, content in (("before", bytes(data)), ("after", clean)):
        (tmp_path / name).write_bytes(content)
    before, after = open_photo(tmp_path / "before"), open_photo(tmp_path / "after")
    assert_alike(f"stripped-tiff-{ord(order)}", after.pixels, before.pixels)
    assert (before.focal_35mm, after.focal_35mm) == (26.0, 26.0)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_clean_stays_as_it_is(kind):
    clean = strip_photo(saved(kind)).data
    assert strip_photo(clean).data == clean


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"BM" + bytes(60),
        b"GIF89a" + bytes(60),
        b"not a picture",
        b"\xff\xd8\xff",
        b"%!PS-Adobe-3.0 EPSF-3.0",
    ],
)
def test_what_is_no_photo_is_refused(data):
    with pytest.raises(CantStripError):
        strip_photo(data)


def test_what_is_too_large_is_refused(monkeypatch):
    monkeypatch.setattr(privacy, "MOST_PIXELS", 1000)
    with pytest.raises(CantStripError, match="megapixels"):
        strip_photo(saved("PNG"))
    assert strip_photo(saved("JPEG")).ending == ".jpg"  # rebuilt without its pixels
    monkeypatch.setattr(privacy, "_MOST_REBUILD_BYTES", 10_000)
    with pytest.raises(CantStripError, match="megapixels"):
        strip_photo(saved("JPEG"))


@pytest.mark.parametrize("make", PHOTOS.values(), ids=PHOTOS)
def test_damaged_photos_are_refused_or_clean(make):
    data, chance = make(), random.Random(5)
    for _ in range(15):
        spoilt = bytearray(data[: chance.randrange(8, len(data))] if chance.random() < 0.4 else data)
        for _ in range(chance.randrange(1, 6)):
            spoilt[chance.randrange(len(spoilt))] = chance.randrange(256)
        try:
            clean = strip_photo(bytes(spoilt)).data
        except CantStripError as error:
            assert str(error).count("\n") == 0
        else:
            assert [mark for mark in MARKS if mark in clean] == []
