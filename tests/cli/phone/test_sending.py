"""Sending a photo: stopped, on a slow line, another one meanwhile; and a second tap that is too quick."""

import re
from dataclasses import replace

from PIL import Image

from tests.cli.phone.browser import A_CARD, MARKS, a_phone, heading, photograph, settled
from tests.cli.phone.phones import MOST_S
from tests.cli.phone.running import ROOT
from tests.vision.draw import Drawing, Stroke, draw

pytestmark = MARKS
LIGHTHOUSE = ROOT / "sample_images" / "lighthouse.jpg"


def test_sending_is_stopped_and_the_next_photo_goes(tab):
    held = []
    tab.route("**/cards", lambda route: held.append(route))
    tab.get_by_label("Photo of the card").set_input_files(LIGHTHOUSE)
    assert tab.get_by_label("Photo of the card").is_disabled()  # one photo is not sent twice
    tab.get_by_role("button", name="Stop sending").click()
    assert tab.locator(".words").inner_text().startswith("Stopped.")
    assert not tab.get_by_role("button", name="Stop sending").is_visible()
    tab.unroute("**/cards")
    photograph(tab, LIGHTHOUSE)


def test_a_card_that_is_left_to_be_read_shows_its_verdict_in_the_list(tab):
    before = tab.locator(".cards li").count()
    tab.get_by_label("Photo of the card").set_input_files(LIGHTHOUSE)
    tab.get_by_role("button", name="Photograph another meanwhile").click()
    tab.wait_for_url(re.compile("/$"))
    first = tab.locator(".cards li").first
    first.get_by_text("1 thing to fix first").wait_for(timeout=1000 * MOST_S)
    assert tab.locator(".cards li").count() == before + 1
    assert tab.get_by_label("Photo of the card").is_enabled()


def test_the_second_tap_of_two_answers_no_further_question(tab, tmp_path):
    """The next question comes to lie where the finger still is."""
    pale = tuple(Stroke([(x, y), (x + 0.3, y)], 2.6, 0.28) for x, y in ((30.0, 80.0), (44.0, 84.0)))
    path = tmp_path / "pale.png"
    Image.fromarray(draw(replace(Drawing(), strokes=pale)).pixels).save(path)
    photograph(tab, path)
    asked = tab.locator(".question").count()
    assert asked >= 2
    tab.evaluate(
        """() => new MutationObserver((_, self) => {
            self.disconnect();
            document.querySelector('.question button[value=yes]').click();
        }).observe(document.getElementById('main'), {childList: true})"""
    )
    tab.get_by_role("button", name="No, not a light").first.dblclick()
    settled(tab)
    assert tab.locator(".question").count() == asked - 1
    tab.get_by_role("button", name="Take back the last change").click()
    settled(tab)
    assert tab.locator(".question").count() == asked
    assert heading(tab) == "Check what I read first"


def test_a_photo_chosen_before_the_scripts_have_come_is_sent_all_the_same(chromium, page):
    with a_phone(chromium) as tab:
        on_the_way = []
        tab.route("**/send.js", lambda route: on_the_way.append(route))
        tab.goto(page.address)
        tab.get_by_label("Photo of the card").set_input_files(LIGHTHOUSE)
        while not on_the_way:
            tab.wait_for_timeout(20)
        on_the_way[0].continue_()
        tab.wait_for_url(A_CARD, timeout=1000 * MOST_S)


def test_who_waits_long_is_told_what_for(tab):
    """The clock is the test's own: fifteen seconds without a byte that moves, then as many of reading."""
    held = []
    tab.clock.install()
    tab.reload()
    tab.wait_for_selector("html[data-ready]")
    tab.route("**/cards", lambda route: held.append(route))
    tab.get_by_label("Photo of the card").set_input_files(LIGHTHOUSE)
    words = tab.locator(".words")
    tab.wait_for_function("() => document.querySelector('.words').textContent === 'Sending the photo'")
    tab.clock.run_for(16_000)
    assert "nothing has moved for a while" in words.inner_text()

    reading = {"state": "waiting", "words": "Reading your card", "draft": False}
    tab.route("**/state", lambda route: route.fulfill(json=reading))
    held[0].fulfill(json={"card": "/cards/0123456789abcdef", "state": "/cards/0123456789abcdef/state"})
    tab.wait_for_function("() => document.querySelector('.words').textContent === 'Reading your card'")
    for _ in range(20):  # each question to the computer waits for its answer
        tab.clock.run_for(1_000)
        tab.wait_for_timeout(20)
    assert words.inner_text().startswith("Still reading your card.")
