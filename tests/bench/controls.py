"""Can the tests of deploy/THREATS.md's controls fail? ``python -m tests.bench.controls`` tries it.

Each control is taken out of a copy of the tree, one at a time, and its tests must go red there. A
control whose text has changed is an error: say here anew how it is taken out.
"""

import argparse
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
_COPIED = ("monitor", "simulator", "config", "deploy", "tests", "pyproject.toml", "README.md")


@dataclass(frozen=True, slots=True)
class Control:
    """One control: what is changed where to take it out, and the tests that must miss it."""

    name: str
    file: str
    text: str
    without: str
    tests: tuple[str, ...]


CONTROLS = (
    Control(
        "a password for the broker", "deploy/mosquitto/yard.conf",
        "allow_anonymous false\npassword_file /etc/mosquitto/laidup.passwords\n",
        "allow_anonymous true\n# /etc/mosquitto/laidup.passwords\n",
        ("tests/deploy/test_mosquitto.py", "-k", "closed_to_whoever"),
    ),
    Control(
        "new TLS alone", "deploy/mosquitto/yard.conf", "tls_version tlsv1.2\n",
        "ciphers DEFAULT:@SECLEVEL=0\n",
        ("tests/deploy/test_broker_attacks.py", "-k", "old_tls"),
    ),
    Control(
        "a gateway reads nothing", "deploy/mosquitto/laidup.acl",
        "topic write mill-lane/shedgate/#", "topic readwrite mill-lane/#",
        ("tests/deploy/test_broker_attacks.py", "-k", "hears_nothing"),
    ),
    Control(
        "a gateway writes its own topics", "deploy/mosquitto/laidup.acl",
        "topic write mill-lane/shedgate/#", "topic write mill-lane/#",
        ("tests/deploy/test_broker_attacks.py", "-k", "writes_nothing"),
    ),
    Control(
        "a client id is the user's name", "deploy/mosquitto/yard.conf",
        "use_username_as_clientid true", "use_username_as_clientid false",
        ("tests/deploy/test_mosquitto.py", "-k", "takes_the_daemon_s_session"),
    ),
    Control(
        "a packet has a largest size", "deploy/mosquitto/yard.conf",
        "max_packet_size 1048576", "max_packet_size 20000000",
        ("tests/deploy/test_broker_attacks.py", "-k", "too_large"),
    ),
    Control(
        "a sensor is tied to its topic", "monitor/intake/decode.py",
        "if series.topic and not is_own_topic(series.topic, topic):", "if False:",
        ("tests/intake/test_ties.py",),
    ),
    Control(
        "the page is served to this machine alone", "monitor/web/server.py",
        "if not self._asks_who and not is_loopback(self._host):", "if False:",
        ("tests/web/test_server.py",),
    ),
    Control(
        "nobody takes a route without its right", "monitor/web/access/guard.py",
        "    if visitor.may(needs):", "    if True:",
        ("tests/web/access/test_matrix.py",),
    ),
    Control(
        "an owner sees no other's craft", "monitor/web/access/guard.py",
        "if craft is None or visitor.may_see_craft(craft):", "if True:",
        ("tests/web/access/test_matrix.py",),
    ),
    Control(
        "a form needs its token", "monitor/web/access/visitor.py",
        "    if not visitor.form_token or not hmac.compare_digest(", "    if False and (",
        ("tests/web/access/test_sign_in.py", "-k", "token"),
    ),
    Control(
        "a link to set a password runs out", "monitor/web/access/invitations.py",
        "return found if found.made_at - CLOCK_STEP <= now < found.expires_at else None",
        "return found", ("tests/web/access/test_sign_in.py", "-k", "newer_link"),
    ),
    Control(
        "whoever left the yard's file is out for good", "monitor/web/access/end_access.py",
        "            tx.sign_ins.forget_person(person)\n", "            pass\n",
        ("tests/web/access/test_end_access.py", "-k", "leaves_the_file"),
    ),
    Control(
        "what has run out stays over", "monitor/web/access/people_access.py",
        "        self._keep(lambda tx: end_expired_access(tx, now))", "        pass",
        ("tests/web/access/test_end_access.py", "-k", "seen_by_somebody"),
    ),
    Control(
        "templates escape", "monitor/web/page_templates.py", "autoescape=True", "autoescape=False",
        ("tests/web/test_app.py", "-k", "hostile"),
    ),
    Control(
        "an answer link works once", "monitor/alarms/acts/answers.py",
        "if not tx.answer_links.use_link(link.digest, now):",
        "if not tx.answer_links.use_link(link.digest, now) and False:",
        ("tests/web/test_answer.py", "tests/alarms/acts/test_answers.py"),
    ),
    Control(
        "an answer link runs out", "monitor/alarms/acts/answers.py",
        "if now >= link.expires_at:", "if False:",
        ("tests/web/test_answer.py", "tests/alarms/acts/test_answers.py"),
    ),
    Control(
        "a look at an answer link changes nothing", "monitor/web/answer.py",
        "def show_answer_page(secret: str) -> Response:\n",
        "def show_answer_page(secret: str) -> Response:\n        answers.answer(secret)\n",
        ("tests/web/test_answer.py", "tests/line/test_answer.py"),
    ),
    Control(
        "a mail server's certificate is checked", "monitor/delivery/channels/mail.py",
        "return ssl.create_default_context(cafile=ca_file)",
        "return ssl._create_unverified_context()", ("tests/delivery/test_mail.py",),
    ),
    Control(
        "a webhook's secret is not shown", "monitor/delivery/channels/webhook.py",
        "secret: str = field(repr=False)", "secret: str = field()",
        ("tests/delivery/test_webhook.py",),
    ),
    Control(
        "what is set up is held to its hashes", "deploy/bootstrap.py",
        '"--require-hashes", ', "", ("tests/deploy/test_bootstrap.py", "tests/deploy/test_lock.py"),
    ),
    Control(
        "of a broken record nothing counts", "monitor/craft/chain_check.py",
        "return tuple(one for one in breaks_of(chain) if not answered(one))", "return ()",
        ("tests/store/test_record_links.py",),
    ),
    Control(
        "the daemon's role cannot rewrite the record", "deploy/postgresql/rights.sql",
        "EXECUTE format('REVOKE UPDATE, DELETE ON %I FROM laidup_daemon', one);", "NULL;",
        ("tests/deploy/test_postgresql_rights.py",),
    ),
    Control(
        "files that others can read are named", "monitor/commands/warnings.py",
        "file.stat().st_mode & _FOR_OTHERS", "False", ("tests/commands/test_check_warnings.py",),
    ),
    Control(
        "the unit writes two folders alone", "deploy/systemd/laidup.service",
        "ProtectSystem=strict\n", "", ("tests/deploy/test_systemd.py",),
    ),
)  # fmt: skip


def is_missed(control: Control, copy: Path) -> bool:
    """Whether the tests go red without a control, in a copy of the tree that is whole after it.

    Raises
    ------
    ValueError
        If the control's text is not in its file.
    """
    file = copy / control.file
    whole = file.read_text(encoding="utf-8")
    if control.text not in whole:
        raise ValueError(f"{control.file} has no {control.text!r}: say anew how it is taken out")
    file.write_text(whole.replace(control.text, control.without), encoding="utf-8")
    try:
        command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider"]
        done = subprocess.run(
            [*command, *control.tests], cwd=copy, check=False, capture_output=True, text=True
        )
    finally:
        file.write_text(whole, encoding="utf-8")
    return done.returncode == 1 and " failed" in done.stdout


def main() -> int:
    """Take each control out, and say which of them no test misses."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--only", help="controls whose name has these words")
    given = parser.parse_args()
    chosen = [one for one in CONTROLS if (given.only or "") in one.name]
    unheld = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "tree"
        copy.mkdir()
        for name in _COPIED:
            source = ROOT / name
            if source.is_dir():
                shutil.copytree(source, copy / name)
            else:
                shutil.copy(source, copy / name)
        for control in chosen:
            missed = is_missed(control, copy)
            unheld += not missed
            print(f"{'red' if missed else 'STILL GREEN'}: without {control.name}", flush=True)
    return 1 if unheld else 0


if __name__ == "__main__":
    sys.exit(main())
