"""A class for everyone: what its pupils and its teacher see, at each width, in both themes."""

from tests.cli.phone.browser import DESK, MARKS, PHONE, SMALL_PHONE, a_phone, findings, small_targets
from tests.cli.phone.phones import Phone
from tests.cli.phone.running import running

pytestmark = MARKS
LONG_NAME = "A name that goes on for longer than any phone is wide"


def test_nothing_keeps_a_teacher_or_a_pupil_out(chromium, tmp_path, lighthouse):
    """The class without a card, then with cards of each kind."""
    with running(tmp_path, "--class") as school:
        look_at(chromium, school, [(school.addresses[1], "/class")])
        pupil, teacher = Phone(school.addresses[0]), Phone(school.addresses[1])
        for phone, name in ((pupil, "Ada"), (teacher, LONG_NAME)):
            phone.scan()
            assert phone.read(lighthouse, fields={"name": name})
        assert pupil.read(b"no photo at all" * 100, fields={"name": "Grace & Co."})
        assert teacher.post("/class/keep").headers["location"] == "/class?kept=2"
        seen = [(school.addresses[0], "/"), (school.addresses[1], "/class?kept=2")]
        look_at(chromium, school, seen)


def look_at(chromium, school, seen):
    """Look at each path as who has scanned that address."""
    for size in (PHONE, SMALL_PHONE, DESK):
        with a_phone(chromium, size) as tab:
            for address, path in seen:
                tab.goto(address)
                tab.goto(school.site + path)
                tab.wait_for_selector("html[data-ready]")
                for summary in tab.locator("summary").all():
                    summary.click()  # the code to be scanned
                assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth"), (path, size)
                assert size != PHONE or small_targets(tab) == [], path
                for theme in ("light", "dark"):
                    tab.emulate_media(color_scheme=theme)
                    assert findings(tab) == [], (path, size, theme)
            assert tab.elsewhere == [] and tab.said == []
