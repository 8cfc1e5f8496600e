"""The real parts keep their promises: what other tests prove rests on them."""

import asyncio
import smtplib
import subprocess
from email.message import EmailMessage

import psycopg
import pytest
from sqlalchemy import create_engine, text

from tests.real.need import need, wait_until


def mail(subject: str) -> EmailMessage:
    message = EmailMessage()
    message["From"], message["To"], message["Subject"] = "a@yard.test", "b@yard.test", subject
    message.set_content("ünïcode holds")
    return message


def test_a_missing_program_fails_with_the_command_that_brings_it():
    with pytest.raises(pytest.fail.Exception, match=r"apt-get install no-such-package"):
        need("no-such-program", "no-such-package")


def test_the_broker_has_a_retained_message_still_after_a_stop_and_a_start(broker):
    at = ["-h", broker.host, "-p", str(broker.port), "-t", "yard/shed"]
    publish = need("mosquitto_pub", "mosquitto-clients")
    subscribe = need("mosquitto_sub", "mosquitto-clients")
    subprocess.run([publish, *at, "-r", "-q", "1", "-m", "4.5"], check=True, timeout=10)
    broker.stop()
    broker.start()
    heard = subprocess.run(
        [subscribe, *at, "-C", "1", "-W", "5"], check=True, timeout=10, capture_output=True
    )
    assert heard.stdout == b"4.5\n"


def test_the_embedded_broker_takes_what_a_foreign_client_publishes(embedded_broker):
    at = ["-h", embedded_broker.host, "-p", str(embedded_broker.port), "-V", "311"]
    subscribe = need("mosquitto_sub", "mosquitto-clients")
    publish = need("mosquitto_pub", "mosquitto-clients")
    message = ["-t", "yard/shed", "-q", "1", "-m", "4.5"]

    def heard() -> bool:
        subprocess.run([publish, *at, *message], check=True, timeout=10)
        return listener.poll() is not None

    with subprocess.Popen(
        [subscribe, *at, "-t", "yard/#", "-q", "1", "-C", "1", "-W", "10"],
        stdout=subprocess.PIPE,
        text=True,
    ) as listener:
        wait_until(heard, 10, "the listener to hear one message and end")
        assert listener.communicate()[0] == "4.5\n"


def test_the_mail_server_keeps_what_comes_and_refuses_when_told(mail_server):
    with smtplib.SMTP(mail_server.host, mail_server.port, timeout=5) as client:
        client.send_message(mail("first"))
        mail_server.refusal = "451 4.3.0 busy"
        with pytest.raises(smtplib.SMTPDataError, match="busy"):
            client.send_message(mail("second"))
    [kept] = mail_server.wait_for(1)
    assert (kept.sender, kept.recipients) == ("a@yard.test", ["b@yard.test"])
    assert (kept.subject, kept.text().strip()) == ("first", "ünïcode holds")
    assert mail_server.refused == 1
    mail_server.stop()
    with pytest.raises(ConnectionRefusedError):
        smtplib.SMTP(mail_server.host, mail_server.port, timeout=5)


@pytest.mark.parametrize("order", ["one test", "the next test"])
def test_each_test_gets_a_database_in_which_nothing_was_left(postgres, order):
    engine = create_engine(postgres)
    assert isinstance(engine.raw_connection().driver_connection, psycopg.Connection)
    with engine.begin() as connection:
        connection.execute(text("CREATE TABLE only_here (value TEXT)"))
        connection.execute(text("INSERT INTO only_here VALUES (:order)"), {"order": order})
        assert connection.execute(text("SELECT value FROM only_here")).scalars().all() == [order]


def test_the_browser_draws_a_page_at_a_phone_s_width(phone):
    phone.set_content("<body style='margin:0'><p id=p>-3.2 °C</p>")
    assert phone.evaluate("document.documentElement.clientWidth") == 390
    assert phone.inner_text("#p") == "-3.2 °C"


def test_the_browser_leaves_no_event_loop_behind():
    async def answer() -> int:
        return 7

    assert asyncio.run(answer()) == 7
