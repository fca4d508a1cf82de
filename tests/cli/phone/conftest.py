import pytest

from tests.cli.phone.browser import a_browser, a_phone
from tests.cli.phone.phones import Phone
from tests.cli.phone.running import ROOT, running


@pytest.fixture(scope="session")
def page(tmp_path_factory):
    """One page for all tests that don't stop it."""
    with running(tmp_path_factory.mktemp("drawer")) as page:
        yield page


@pytest.fixture
def phone(page):
    """A phone that has scanned the code."""
    phone = Phone(page.address)
    phone.scan()
    return phone


@pytest.fixture(scope="session")
def lighthouse():
    """A practice photo: nine lights, two of them too close, one move that mends it."""
    return (ROOT / "sample_images" / "lighthouse.jpg").read_bytes()


@pytest.fixture(scope="session")
def card(page, lighthouse):
    """A card that has been read; tests that change it take a fresh one."""
    phone = Phone(page.address)
    phone.scan()
    return phone.read(lighthouse, name="lighthouse.jpg")


@pytest.fixture(scope="module")
def chromium():
    with a_browser() as browser:
        yield browser


@pytest.fixture
def tab(chromium, page):
    with a_phone(chromium) as tab:
        tab.goto(page.address)
        yield tab
        assert tab.elsewhere == [] and tab.said == []
