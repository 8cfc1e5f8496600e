"""`laidup demo` refuses what cannot be played, before anything is started."""

import pytest

from monitor.cli import main


@pytest.mark.parametrize(
    ("flags", "words"),
    [
        (["--hours-a-minute", "0"], "never ends"),
        (["--hours-a-minute", "-3"], "never ends"),
        (["--hours-a-minute", "nan"], "never ends"),
        (["--hours-a-minute", "quick"], "quick"),
        (["--port", "99999"], "between 1 and 65535"),
    ],
)
def test_a_flag_that_will_not_do_is_refused_as_wrong_use(flags, words, capsys):
    with pytest.raises(SystemExit) as ended:
        main(["demo", *flags])
    assert ended.value.code == 2
    assert words in capsys.readouterr().err
