"""A mail as bytes, read back by the standard library's reader."""

from dataclasses import replace
from email import message_from_bytes
from email.header import decode_header, make_header

import pytest

from monitor.delivery.leaving_forms import as_mail
from tests.delivery.scene import message


@pytest.mark.parametrize("words", range(12))
def test_no_space_of_a_subject_is_lost_wherever_a_line_might_break(words):
    subject = f"Update: {'heron ' * words}leave it; −11 °C tonight, Ørn Åse"
    mail = as_mail(replace(message(), subject=subject), "alarms@yard.example").as_bytes()
    assert str(make_header(decode_header(message_from_bytes(mail)["Subject"]))) == subject


def test_answers_go_where_the_yard_says():
    # RFC 5322, section 3.6.2: Reply-To is where the author wants answers.
    mail = as_mail(message(), "watch@yard.example", "Office <office@yard.example>")
    assert mail["Reply-To"] == "Office <office@yard.example>"
    assert mail["From"] == "watch@yard.example"
    assert as_mail(message(), "watch@yard.example")["Reply-To"] is None
