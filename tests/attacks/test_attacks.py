"""A small share of each attack; run by hand they go on for hundreds of cases (see each module's head)."""

from tests.attacks import planted


def test_no_planted_secret_comes_through(capsys):
    assert planted.main(len(planted.PLANTS)) == 0
    refused = int(capsys.readouterr().out.split(" photos left")[0].split()[-1])
    assert refused <= 5  # refusing everything would be no art
