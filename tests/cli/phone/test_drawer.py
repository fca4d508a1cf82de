"""Cards lie in the drawer whole or not at all."""

import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from cli.file_trouble import FileTroubleError
from cli.phone import drawer as drawers
from cli.phone.card import is_id
from cli.phone.drawer import Drawer, DrawerFullError, open_drawer

PHOTO = b"not a photo, but the drawer does not mind"


def put_in(drawer, name="harbour.jpg", owner="a" * 32):
    return drawer.take_in(io.BytesIO(PHOTO), name, owner, "", {"units": "in"})


def test_a_card_is_there_again_after_a_restart(tmp_path):
    card = put_in(Drawer(tmp_path))
    again = Drawer(tmp_path)
    assert again.get(card.id) == card
    assert (again.place(card.id) / card.photo).read_bytes() == PHOTO
    assert [line.id for line in again.lines()] == [card.id]


def test_the_cookies_secret_stays_until_the_phones_are_to_be_forgotten(tmp_path):
    first = Drawer(tmp_path)
    assert Drawer(tmp_path).secret == first.secret
    first.forget_phones()
    assert Drawer(tmp_path).secret == first.secret != Drawer(tmp_path / "another").secret


@pytest.mark.parametrize(
    "name", ["../../x.jpg", "x.jpg/../../y", "/etc/passwd", "a" * 5000 + ".png", "é\0.jpg", ""]
)
def test_whatever_a_photo_is_called_it_lies_under_our_own_name(tmp_path, name):
    card = put_in(Drawer(tmp_path), name)
    assert is_id(card.id) and card.photo in ("photo.jpg", "photo.png")
    assert sorted(path.name for path in (tmp_path / "cards" / card.id).iterdir()) == ["card.json", card.photo]


@pytest.mark.parametrize(
    "wrong", ["", "..", "../x", "0123456789ABCDEF", "0123456789abcdef/", "0123456789abcdeg"]
)
def test_only_an_id_leads_to_a_folder(tmp_path, wrong):
    with pytest.raises(ValueError):
        Drawer(tmp_path).place(wrong)


def test_a_disk_that_fails_leaves_no_card(tmp_path, monkeypatch):
    drawer = Drawer(tmp_path)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(drawers.shutil, "copyfileobj", full)
    with pytest.raises(FileTroubleError, match="room"):
        put_in(drawer)
    assert drawer.lines() == [] and list((tmp_path / "cards").iterdir()) == []
    assert list((tmp_path / "arriving").iterdir()) == []


def test_what_was_on_its_way_in_when_the_program_died_is_gone_at_the_next_start(tmp_path):
    Drawer(tmp_path)
    left = tmp_path / "arriving" / "0123456789abcdef"
    left.mkdir()
    (left / "photo.jpg").write_bytes(PHOTO)
    assert Drawer(tmp_path).lines() == [] and not left.exists()


@pytest.mark.parametrize("damage", [b"", b"{", b"[]", b'{"schema": "pencilamp/phone-card/1"}', b"\xff\xfe"])
def test_a_damaged_card_is_not_shown_and_left_alone(tmp_path, damage):
    whole, broken = put_in(Drawer(tmp_path)), put_in(Drawer(tmp_path))
    (tmp_path / "cards" / broken.id / "card.json").write_bytes(damage)
    again = Drawer(tmp_path)
    assert [line.id for line in again.lines()] == [whole.id]
    again.tidy()
    assert (tmp_path / "cards" / broken.id / broken.photo).exists()


def test_cards_are_tidied_after_14_days_unless_kept(tmp_path):
    drawer = Drawer(tmp_path)
    plain, kept = put_in(drawer), put_in(drawer)
    drawer.put(replace(kept, kept=3))
    now = datetime.now(UTC)
    assert drawer.tidy(now + timedelta(days=13, hours=23)) == 0
    assert drawer.tidy(now + timedelta(days=14, minutes=1)) == 1
    assert [line.id for line in drawer.lines()] == [kept.id]
    assert not (tmp_path / "cards" / plain.id).exists()


def test_a_card_taken_out_in_the_meantime_does_not_come_back(tmp_path):
    drawer = Drawer(tmp_path)
    card = put_in(drawer)
    drawer.take_out(card.id)
    drawer.put(replace(card, name="late"))
    assert drawer.lines() == [] and Drawer(tmp_path).lines() == []


def test_a_full_drawer_says_so(tmp_path, monkeypatch):
    monkeypatch.setattr(drawers, "MOST_CARDS", 1)
    drawer = Drawer(tmp_path)
    put_in(drawer)
    with pytest.raises(DrawerFullError, match="1 cards"):
        put_in(drawer)


def test_a_second_program_is_kept_out_of_the_same_drawer(tmp_path):
    with open_drawer(tmp_path):
        arriving = tmp_path / "arriving" / "0123456789abcdef"
        arriving.mkdir()
        with pytest.raises(FileTroubleError, match="runs already"), open_drawer(tmp_path):
            pass
        assert arriving.exists()  # what the first one is just taking in
    with open_drawer(tmp_path) as again:
        assert again.lines() == []


def test_a_disk_that_is_nearly_full_takes_no_photo(tmp_path, monkeypatch):
    drawer = Drawer(tmp_path)
    monkeypatch.setattr(drawers, "LEAST_FREE_BYTES", 10**18)
    with pytest.raises(DrawerFullError, match="nearly full"):
        put_in(drawer)
    assert drawer.lines() == []


def test_a_clock_that_is_set_ages_no_card(tmp_path, monkeypatch):
    """A computer without a clock of its own begins in 1970 or where it stopped, and is set once it has a network."""
    drawer = Drawer(tmp_path)
    card = drawer.put(replace(put_in(drawer), changed="1970-01-01T00:00:00+00:00"))
    path = drawer.place(card.id) / "card.json"
    path.write_text(path.read_text().replace(card.changed, "1970-01-01T00:00:00+00:00"))
    real = drawers.time.time
    monkeypatch.setattr(drawers.time, "time", lambda: real() + 56 * 365 * 86_400)
    assert drawer.tidy() == 0
    monkeypatch.undo()
    again = Drawer(tmp_path)
    assert again.tidy() == 0 and again.get(card.id) is not None
