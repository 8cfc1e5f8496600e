"""Mails written to a folder: the very mails that would have been sent."""

from email import message_from_bytes, policy

from monitor.delivery.channels.folder import FolderChannel, FolderSettings
from monitor.delivery.channels.mail import MailChannel
from monitor.yard.message import DeliveryOutcome
from tests.delivery.scene import PICTURE, TABLE, mail_settings, message


def test_the_file_is_the_mail_that_a_server_would_get(tmp_path, mail_server):
    sender = "Kettlemoss Yard <alarms@yard.example>"
    sent = message(attachments=(PICTURE, TABLE))
    receipt = FolderChannel(FolderSettings(path=tmp_path / "mails", sender=sender)).send(sent)
    MailChannel(mail_settings(mail_server.port, sender=sender)).send(sent)
    (file,) = (tmp_path / "mails").iterdir()
    assert receipt.detail == str(file)
    written = message_from_bytes(file.read_bytes(), policy=policy.default)
    arrived = mail_server.messages[0].message

    def outline(mail):
        return [
            (part.get_content_type(), part.get_filename(), part.get_payload(decode=True))
            for part in mail.walk()
        ]

    assert outline(written) == outline(arrived)
    for header in ("From", "To", "Subject", "Date", "Message-ID"):
        assert written[header] == arrived[header]


def test_the_same_message_twice_is_one_file(tmp_path):
    channel = FolderChannel(FolderSettings(path=tmp_path))
    assert [channel.send(message()).outcome for _ in range(2)] == [DeliveryOutcome.TAKEN] * 2
    assert len(list(tmp_path.iterdir())) == 1


def test_a_hostile_subject_or_person_cannot_leave_the_folder(tmp_path):
    folder = tmp_path / "mails"
    FolderChannel(FolderSettings(path=folder)).send(
        message("../../x/1", subject="../../../etc/passwd\x00", person="../..")
    )
    (file,) = folder.iterdir()
    assert file.suffix == ".eml"
    assert [each.name for each in tmp_path.iterdir()] == ["mails"]


def test_a_folder_that_cannot_be_written_puts_the_mail_off(tmp_path):
    file = tmp_path / "mails"
    file.write_text("a file stands where the folder should")
    receipt = FolderChannel(FolderSettings(path=file)).send(message())
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
