"""A small share of each attack; run by hand they go on for hundreds of cases (see each module's head)."""

import os

import pytest

from tests.attacks import mutated, planted


@pytest.fixture(autouse=True)
def own_archive(monkeypatch):
    monkeypatch.setenv("PENCILAMP_ARCHIVE", os.devnull)  # each attack sets its own, which ends with the test


def test_no_planted_secret_comes_through(capsys):
    assert planted.main(len(planted.PLANTS)) == 0
    refused = int(capsys.readouterr().out.split(" photos left")[0].split()[-1])
    assert refused <= 5  # refusing everything would be no art


@pytest.mark.parametrize(("what", "count"), [("photos", 8), ("plans", 8), ("zips", 40), ("parts", 40)])
def test_what_is_spoilt_is_taken_or_refused_in_one_sentence(what, count):
    codes = mutated.main(what, count, seed=5)
    assert sum(codes.values()) == count


def test_the_attack_notices_a_command_that_does_not_hold(monkeypatch, tmp_path):
    def trips(*arguments, **named):
        raise KeyError("tripped")

    monkeypatch.setattr("cli.archive.zip_and_bin_commands.keep_zip", trips)
    with pytest.raises(mutated.Broken, match="case 0"):
        mutated.main("zips", 3)
