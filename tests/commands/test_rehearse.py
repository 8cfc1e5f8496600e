"""``laidup rehearse``: a person gets a test message, and the command tells what became of it."""

import threading
from datetime import UTC, datetime

import pytest

from monitor.clock import ReadingsClock
from monitor.delivery.channels import channels
from monitor.delivery.channels.mail_settings import MailSettings
from monitor.delivery.post import Post
from monitor.settings.load import load_settings
from monitor.store.migrate import migrate
from monitor.store.store import Store
from tests.commands.yard_files import copied_yard, laidup


def test_without_a_running_daemon_it_says_where_the_message_is(tmp_path, capsys):
    config = copied_yard(tmp_path)
    laidup("migrate", "--config", str(config))
    assert laidup("rehearse", "operator", "--wait", "0", "--config", str(config)) == 1
    assert "mail: still in the outbox; is `laidup run` running?" in capsys.readouterr().out


def test_nobody_of_that_name_is_told_with_who_there_is(tmp_path, capsys):
    config = copied_yard(tmp_path)
    laidup("migrate", "--config", str(config))
    assert laidup("rehearse", "nobody", "--config", str(config)) == 1
    assert "operator" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("refusal", "status", "words"),
    [
        (None, 0, "taken for"),
        (
            "550 5.1.1 no such mailbox",
            1,
            "put off for ines@kettlemoss.example: 550 5.1.1 no such mailbox",
        ),
    ],
)
def test_it_tells_what_the_mail_server_answered(
    tmp_path, capsys, mail_server, refusal, status, words
):
    config = copied_yard(tmp_path)
    settings = load_settings(config)
    migrate(settings.store_url)
    mail_server.refusal = refusal
    stop = threading.Event()
    store = Store(settings.store_url, settings.yard.id)
    mail = MailSettings(
        host=mail_server.host, port=mail_server.port, security="none", sender="watch@yard.example"
    )
    clock = ReadingsClock(datetime.now(UTC))
    post = Post(store, channels(mail, None), clock)

    def carry():
        while not stop.wait(0.1):
            clock.advance_to(datetime.now(UTC))
            post.run_once()

    carrier = threading.Thread(target=carry)
    carrier.start()
    try:
        assert laidup("rehearse", "operator", "--wait", "5", "--config", str(config)) == status
    finally:
        stop.set()
        carrier.join()
        store.close()
    assert words in capsys.readouterr().out
    assert len(mail_server.messages) == (0 if refusal else 1)
