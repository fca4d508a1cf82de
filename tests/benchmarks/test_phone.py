"""A small share of the phone page's benchmark, so that it can't rot: each part ends with an error where it fails."""

from tests.benchmarks.phone import class_at_once, drags, hostile, uploads


def test_a_few_phones_at_once_all_get_their_cards():
    seconds, most = class_at_once(3)
    assert len(seconds) == 3 and most > 0


def test_hostile_requests_are_told_nothing():
    assert hostile(60, seed=2) == []


def test_uploads_and_drags_run():
    assert len(uploads(8)) == 8
    assert len(drags(3)) == 3
