"""Kill -9 between every two steps from judgement to mailbox, and count what each person got."""

import pytest

from tests.delivery.drill import READERS, STEPS, UNRECORDED, drill


@pytest.mark.parametrize("step", STEPS)
def test_whoever_must_be_told_is_told_whatever_moment_the_power_fails(tmp_path, mail_server, step):
    done = drill(tmp_path, mail_server, step)
    assert set(done.received) == set(READERS)
    # At least once: a mail that the server took, but whose receipt was not yet recorded, comes
    # twice, and is the same mail to any mail program.
    doubled = done.received.total() - len(READERS)
    assert doubled == (1 if step in UNRECORDED else 0)
    assert done.message_ids == len(READERS)
