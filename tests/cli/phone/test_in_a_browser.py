"""The whole job with a phone in the hand: Debian's Chromium at a phone's size, with touch."""

import re
from dataclasses import replace

import pytest
from PIL import Image

from tests.cli.phone.browser import (
    A_CARD,
    LEAST_TARGET_PX,
    MARKS,
    a_phone,
    drag,
    found_moves,
    heading,
    lying_over,
    photograph,
    place_of,
    settled,
    view,
)
from tests.cli.phone.phones import MOST_S, Phone
from tests.cli.phone.running import ROOT, start, stop
from tests.vision.draw import Dot, Drawing, Stroke, draw

pytestmark = MARKS
LIGHTHOUSE = ROOT / "sample_images" / "lighthouse.jpg"


@pytest.fixture(scope="module")
def doubtful(tmp_path_factory):
    """A drawn photo with one dot so pale that it could be rubbed out."""
    pale = Stroke([(30.0, 80.0), (30.3, 80.0)], 2.6, 0.28)
    path = tmp_path_factory.mktemp("photo") / "pale.png"
    Image.fromarray(draw(replace(Drawing(), strokes=(pale,))).pixels).save(path)
    return path


def test_from_a_photo_to_the_printed_sheet_and_back_from_the_archive(tab):
    photograph(tab, LIGHTHOUSE)
    assert heading(tab) == "1 thing to fix first"
    for name in [*(f"L{k}" for k in range(1, 10)), "Battery"]:
        assert tab.get_by_role("button", name=name, exact=True).is_visible()

    view(tab, "Mend")
    found_moves(tab)
    moved = {move[5:7] for move in tab.locator(".moves li").all_inner_texts()}
    tab.get_by_role("button", name="Take over the moves").click()
    tab.get_by_text(" moved.").first.wait_for()
    settled(tab)
    assert "fix" not in heading(tab)

    before = place_of(tab, "L1")
    words = drag(tab, tab.get_by_role("button", name="L1", exact=True), (24, 30))
    assert re.match(r"L1: [\d.]+ mm to .*edge", words)
    settled(tab)
    after = place_of(tab, "L1")
    assert after[0] > before[0] + 4 and after[1] > before[1] + 5

    tab.get_by_role("link", name="On paper").click()
    tab.locator(".steps li").first.wait_for()
    steps = tab.locator(".steps li").all_inner_texts()
    changed = sorted({"L1", *moved})
    rub, pencil = [f"Rub out {label}," for label in changed], [f"Pencil {label} a" for label in changed]
    assert [step[:11] for step in steps] == rub + pencil

    tab.get_by_role("navigation", name="Steps").get_by_role("link", name="Build").click()
    for name in ("Sheet to print", "Build sheet"):
        address = tab.get_by_role("link", name=name).get_attribute("href")
        assert tab.request.get(tab.url.split("/cards/")[0] + address).body().startswith(b"%PDF-")
    tab.get_by_label("Its title").fill("Lighthouse from a phone")
    tab.get_by_role("button", name="Keep").click()
    tab.get_by_text("Kept as number").first.wait_for()

    tab.goto(tab.url.split("/cards/")[0] + "/kept")
    tab.get_by_label("Find by words").fill("phone lighthouse")
    tab.get_by_role("button", name="Find").click()
    tab.get_by_role("link", name="Lighthouse from a phone").first.click()
    assert heading(tab) == "Lighthouse from a phone"
    assert (
        tab.get_by_role("img", name="The overlay").evaluate(
            "one => one.decode().then(() => one.naturalWidth)"
        )
        > 500
    )
    tab.get_by_role("link", name="Photograph it again").click()
    photograph(tab, LIGHTHOUSE)
    tab.get_by_role("link", name="Compare with kept design").click()
    tab.get_by_role("img", name="Both drawn over each other").wait_for()


def test_a_doubt_is_a_question_at_its_place_and_either_answer_plans_again(tab, doubtful):
    photograph(tab, doubtful)
    lights = tab.locator(".mark").count() - 1
    assert tab.get_by_role("button", name="Yes, a light").is_visible()
    tab.get_by_role("link", name="Show where").click()
    assert tab.locator(".spot.doubt.shown").is_visible()
    tab.get_by_role("button", name="No, not a light").click()
    settled(tab)
    assert tab.locator(".mark").count() - 1 == lights - 1
    assert tab.get_by_role("button", name="Yes, a light").count() == 0
    view(tab, "Mend")
    tab.get_by_role("button", name="Take back the last change").click()
    settled(tab)
    tab.get_by_role("button", name="Yes, a light").click()
    settled(tab)
    assert tab.locator(".mark").count() - 1 == lights
    assert tab.get_by_role("button", name="Yes, a light").count() == 0


def test_a_thumb_that_comes_down_beside_a_number_means_it(tab, card, page):
    tab.goto(page.site + card)
    tab.wait_for_selector("html[data-ready]")
    spot = tab.locator("#spot-1")
    spot.scroll_into_view_if_needed()
    box = spot.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def tap(away):
        tab.touchscreen.tap(x, y - away)
        return spot.evaluate("one => one.classList.contains('shown')")

    assert tap(LEAST_TARGET_PX / 2 + 8) is False and tap(LEAST_TARGET_PX / 2 - 3) is True


def test_no_name_or_number_on_the_picture_lies_over_another(chromium, page, tmp_path):
    """Six lights far too near each other, the closest five millimetres, on the narrowest phone."""
    near = ((40, 40), (45, 40), (50, 40), (40, 45.5), (45, 45.5), (50, 45.5))
    path = tmp_path / "near.png"
    Image.fromarray(draw(replace(Drawing(), dots=tuple(Dot(x, y, 2.6) for x, y in near))).pixels).save(path)
    with a_phone(chromium, (360, 640)) as tab:
        tab.goto(page.address)
        photograph(tab, path)
        for enlarged in range(3):
            # Names, the battery's, and a number for each pair that is too near.
            assert tab.locator(".mark span, .spot").count() >= 6 + 1 + 7
            assert lying_over(tab) == [], enlarged
            tab.get_by_role("button", name="Larger").click()


def test_a_problem_leads_to_its_place_and_back(tab, card, page):
    tab.goto(page.site + card)
    tab.wait_for_selector("html[data-ready]")
    tab.get_by_role("link", name="Show problem 1 on the card").click()
    spot, stage = tab.locator("#spot-1"), tab.locator(".stage")
    assert spot.evaluate("one => one.classList.contains('shown') && one === document.activeElement")
    place, frame = spot.locator("i").bounding_box(), stage.bounding_box()
    # The line from its number to its place; nearer to the middle than one touch target is wide (44 px).
    assert abs(place["x"] + place["width"] / 2 - frame["x"] - frame["width"] / 2) < 30


def test_the_picture_stays_where_it_is_while_words_come_above_it(tab, page, lighthouse):
    phone = Phone(page.address)
    phone.scan()
    tab.goto(page.site + phone.read(lighthouse) + "/mend")
    tab.wait_for_selector("html[data-ready]")
    mark = tab.get_by_role("button", name="L1", exact=True)
    mark.scroll_into_view_if_needed()
    tab.evaluate("scrollBy(0, 60)")
    before = tab.locator(".stage").bounding_box()["y"]
    drag(tab, mark, (24, 30))
    tab.get_by_text("L1 moved.").first.wait_for()
    settled(tab)
    assert tab.locator(".stage").bounding_box()["y"] == pytest.approx(before, abs=1)  # a pixel


def test_a_light_is_added_where_one_taps_and_dropped(tab, page, lighthouse):
    phone = Phone(page.address)
    phone.scan()
    tab.goto(page.site + phone.read(lighthouse) + "/mend")
    tab.wait_for_selector("html[data-ready]")
    tab.get_by_role("button", name="Add a light").click()
    box = tab.locator(".sheet").bounding_box()
    tab.touchscreen.tap(box["x"] + box["width"] * 0.35, box["y"] + box["height"] * 0.25)
    tab.get_by_role("button", name="L10", exact=True).wait_for()
    settled(tab)
    tab.get_by_role("button", name="L10", exact=True).tap()
    tab.get_by_role("button", name="Drop L10").click()
    tab.get_by_text("L10 dropped.").first.wait_for()
    settled(tab)
    assert tab.get_by_role("button", name="L10", exact=True).count() == 0


def test_dark_lights_are_tapped(tab, card, page):
    tab.goto(page.site + card + "/build")
    tab.get_by_role("link", name="A light stays dark").click()
    tab.wait_for_selector("html[data-ready]")
    tab.get_by_role("button", name="L2", exact=True).tap()
    assert tab.get_by_role("checkbox", name="L2", exact=True).first.is_checked()
    tab.get_by_role("button", name="What could it be?").click()
    tab.get_by_role("heading", name="Try this first").wait_for()
    assert tab.locator(".spot").count() >= 3 and lying_over(tab) == []


def test_back_and_reload_show_what_was_there(tab, card, page):
    tab.goto(page.site + card)
    view(tab, "Mend")
    tab.go_back()
    assert heading(tab) == "1 thing to fix first" and tab.url.endswith(card)
    tab.go_forward()
    tab.reload()
    assert tab.url.endswith("/mend") and tab.get_by_role("button", name="L9", exact=True).is_visible()


def test_the_key_does_not_stay_in_the_address_bar(tab, page):
    assert tab.url == page.site + "/"
    tab.reload()
    assert tab.get_by_label("Photo of the card").is_enabled()


def test_where_the_scripts_get_lost_the_plain_form_comes_forth(chromium, page):
    with a_phone(chromium) as tab:
        tab.clock.install()
        tab.route("**/page.js", lambda route: route.abort())
        tab.goto(page.address)
        send = tab.get_by_role("button", name="Send the photo")
        assert not send.is_visible()
        tab.clock.fast_forward(10_000)
        tab.get_by_label("Photo of the card").set_input_files(LIGHTHOUSE)
        send.click()
        tab.wait_for_url("**/waiting")


def test_two_phones_at_once(chromium, page, doubtful):
    with a_phone(chromium) as one, a_phone(chromium) as other:
        for tab, photo in ((one, LIGHTHOUSE), (other, doubtful)):
            tab.goto(page.address)
            tab.get_by_label("Photo of the card").set_input_files(photo)
        for tab in (one, other):
            tab.bring_to_front()  # a tab that lies behind another one asks less and less often
            tab.wait_for_url(A_CARD, timeout=1000 * MOST_S, wait_until="domcontentloaded")
        assert one.locator(".mark").count() == 10
        assert other.locator(".mark").count() == 5
        assert one.elsewhere == other.elsewhere == []


def test_a_server_that_is_killed_and_started_again_has_lost_nothing(chromium, tmp_path):
    page = start(tmp_path)
    port = int(page.site.rsplit(":", 1)[1])
    try:
        with a_phone(chromium) as tab:
            tab.goto(page.address)
            photograph(tab, LIGHTHOUSE)
            card = tab.url
            view(tab, "Mend")
            found_moves(tab)
            page.kill()
            tab.get_by_role("button", name="Take over the moves").click()
            tab.get_by_text("The computer doesn't answer").first.wait_for()
            stop(page)
            page = start(tmp_path, port=port)
            tab.get_by_role("button", name="Take over the moves").click()
            tab.get_by_text(" moved.").first.wait_for()
            page.kill()
            stop(page)
            page = start(tmp_path, port=port)
            tab.goto(card)
            assert "fix" not in heading(tab)
            assert tab.elsewhere == []
    finally:
        stop(page)


def test_a_photo_that_was_waiting_when_the_server_died_is_read_after_all(chromium, tmp_path, lighthouse):
    page = start(tmp_path)
    phone = Phone(page.address)
    phone.scan()
    card = phone.send(lighthouse).json["card"]
    page.kill()
    stop(page)
    page = start(tmp_path)
    try:
        again = Phone(page.address)
        again.scan()
        assert again.wait_for(card) == "ready"
    finally:
        stop(page)


@pytest.mark.parametrize(("name", "turn"), [("sideways.jpg", 6), ("iphone.heic", 1)])
def test_photos_as_real_phones_leave_them(tab, tmp_path, name, turn):
    """Pixels sideways with a tag that says so (Exif 2.32, orientation 6), and HEIC."""
    import pillow_heif

    pillow_heif.register_heif_opener()
    with Image.open(LIGHTHOUSE) as photo:
        pixels = photo.convert("RGB")
    exif = Image.Exif()
    exif[0x0112] = turn
    if turn == 6:
        pixels = pixels.transpose(Image.Transpose.ROTATE_90)
    path = tmp_path / name
    pixels.save(path, exif=exif, quality=92)
    photograph(tab, path)
    assert heading(tab) == "1 thing to fix first"
    x, y = place_of(tab, "L1")
    assert (x, y) == pytest.approx((14.1, 12.6), abs=0.5)  # as the command line reads the same photo
