"""What ``laidup access`` makes lets each device do its own part at a real broker, and no more."""

import base64
import hashlib
import json
import os
import re
import shutil
import signal
import stat
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.cli import main
from monitor.commands.access.broker_users import UserKind, hash_password, make_password
from monitor.commands.access.certificates import (
    certificate_fingerprint,
    days_left,
    make_authority,
    make_certificate,
)
from monitor.commands.access.folder import BrokerFolder
from monitor.delivery.annunciator import check_annunciator
from monitor.errors import ConfigurationError
from monitor.health.telling import AccountSocket, account_socket
from monitor.settings.load import load_settings
from monitor.yard.health import HealthAccount, HealthFault, HealthFaultKind
from tests.commands.test_init import init
from tests.deploy.test_mosquitto import run
from tests.real.broker import Broker
from tests.real.need import need

DEPLOY = Path(__file__).parents[2] / "deploy" / "mosquitto"
DAEMON = "laidup-mill-lane-storage"
NOW = datetime(2026, 11, 14, 22, tzinfo=UTC)


@pytest.fixture
def yard(tmp_path) -> Path:
    """A yard's folder as ``laidup init`` makes it."""
    folder = tmp_path / "yard"
    assert init(folder) == 0
    return folder


def access(yard: Path, *words: str) -> int:
    return main(["access", words[0], "--config", str(yard), *words[1:]])


def password_of(yard: Path, user: str) -> str:
    """The password on a device's sheet."""
    text = (yard / "broker" / "sheets" / f"{user}.txt").read_text(encoding="utf-8")
    return re.search(r"^Password +(\S+)$", text, re.MULTILINE)[1]


def put_in_place(yard: Path, etc: Path) -> None:
    script = str(DEPLOY / "put-in-place.sh")
    subprocess.run(["sh", script, str(yard / "broker"), str(etc)], check=True, timeout=20)


def own_files(folder: Path) -> None:
    """Have the tests' broker, which stays root, own what was given to mosquitto's user."""
    if os.geteuid() == 0:
        for path in folder.rglob("*"):
            os.chown(path, 0, 0)


@pytest.fixture
def placed(yard, tmp_path):
    """A real broker that reads what put-in-place.sh put there; only port and paths differ."""
    access(yard, "add", "shedgate", "yardgate")
    access(yard, "add", "--lamp", "yardlamp")
    etc = tmp_path / "etc"
    put_in_place(yard, etc)
    configuration = (etc / "conf.d" / "laidup-yard.conf").read_text(encoding="utf-8")
    configuration = configuration.replace("listener 8883", "listener {port} 127.0.0.1")
    broker = Broker(etc, configuration.replace("/etc/mosquitto", str(etc)))
    own_files(etc)
    broker.start()
    yield broker
    broker.kill()


def as_user(yard: Path, user: str, password: str | None = None) -> list[str]:
    authority = str(yard / "broker" / "ca.crt")
    return ["--cafile", authority, "-u", user, "-P", password or password_of(yard, user)]


def test_a_device_with_its_sheet_reaches_its_own_topics_alone(yard, placed):
    own = (yard / "secrets" / "broker.password").read_text(encoding="utf-8")
    daemon = as_user(yard, DAEMON, own)
    session = ["-i", DAEMON, "-c", "-q", "1", "-t", "#"]
    run("mosquitto_sub", placed, *daemon, *session, "-E", check=True)
    for topic in ("mill-lane-storage/shedgate/air", "mill-lane-storage/yardgate/air", "air"):
        sent = ["-q", "1", "-t", topic, "-m", topic]
        run("mosquitto_pub", placed, *as_user(yard, "shedgate"), *sent, check=True)
    heard = run("mosquitto_sub", placed, *daemon, *session, "-W", "2")
    assert heard.stdout.split() == ["mill-lane-storage/shedgate/air"]
    lamp = ["-r", "-q", "1", "-t", "mill-lane-storage/annunciator/state", "-m", "quiet"]
    run("mosquitto_pub", placed, *daemon, *lamp, check=True)
    seen = run("mosquitto_sub", placed, *as_user(yard, "yardlamp"), "-t", "#", "-W", "2")
    assert seen.stdout == "quiet\n"
    unseen = run("mosquitto_sub", placed, *as_user(yard, "shedgate"), "-t", "#", "-W", "2")
    assert unseen.stdout == ""


def test_laidup_itself_reaches_the_broker_with_what_init_wrote(yard, placed, capsys):
    file = yard / "yard.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("port = 8883", f"port = {placed.port}"), encoding="utf-8")
    capsys.readouterr()
    assert main(["check", "--config", str(yard)]) == 0
    said = capsys.readouterr().out
    assert "FAILED" not in said
    assert "Certificate: it holds for 729 days." in said


def test_the_watch_and_its_lamp_hold_a_connection_each(yard, placed, capsys):
    # The broker lets one connection live under a user: as one, each would end the other for good.
    file = yard / "yard.toml"
    lamp = '\n[annunciator]\ntopic = "mill-lane-storage/annunciator"\n'
    text = file.read_text(encoding="utf-8").replace("port = 8883", f"port = {placed.port}")
    file.write_text(text + lamp, encoding="utf-8")
    assert main(["check", "--config", str(yard)]) == 1
    assert "Set [annunciator] username to a user of its own" in capsys.readouterr().out
    file.write_text(f'{text}{lamp}username = "{DAEMON}-lamp"\n', encoding="utf-8")
    own = (yard / "secrets" / "broker.password").read_text(encoding="utf-8")
    follower = [need("mosquitto_sub", "mosquitto-clients"), "-h", placed.host, "-p"]
    follower += [str(placed.port), *as_user(yard, DAEMON, own), "-t", "mill-lane-storage/#", "-v"]
    kept = ["-r", "-q", "1", "-t", "mill-lane-storage/air", "-m", "1"]
    run("mosquitto_pub", placed, *as_user(yard, DAEMON, own), *kept, check=True)
    with subprocess.Popen(follower, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as watch:
        try:
            assert watch.stdout.readline() == b"mill-lane-storage/air 1\n"
            check_annunciator(load_settings(file).annunciator)
            assert watch.stdout.readline() == b"mill-lane-storage/annunciator/check test\n"
            assert watch.poll() is None  # and it was not thrown out
        finally:
            watch.terminate()


def test_a_revoked_device_is_cut_off_and_the_others_go_on(yard, placed, tmp_path):
    lamp, other = as_user(yard, "yardlamp"), as_user(yard, "yardgate")
    own = (yard / "secrets" / "broker.password").read_text(encoding="utf-8")
    kept = ["-r", "-q", "1", "-t", "mill-lane-storage/annunciator/state", "-m", "quiet"]
    run("mosquitto_pub", placed, *as_user(yard, DAEMON, own), *kept, check=True)
    follower = [need("mosquitto_sub", "mosquitto-clients"), "-h", placed.host, "-p"]
    follower += [str(placed.port), *lamp, "-t", "mill-lane-storage/annunciator/#"]
    with subprocess.Popen(follower, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as connected:
        assert connected.stdout.readline() == b"quiet\n"
        assert access(yard, "revoke", "yardlamp") == 0
        put_in_place(yard, tmp_path / "etc")
        own_files(tmp_path / "etc")
        os.kill(placed._process.pid, signal.SIGHUP)
        assert connected.wait(timeout=60) != 0  # its connection is ended, and it comes in no more
    topic = ["-q", "1", "-t", "mill-lane-storage/yardgate/air", "-m", "1"]
    assert run("mosquitto_pub", placed, *lamp, *topic).returncode != 0
    assert run("mosquitto_pub", placed, *other, *topic).returncode == 0
    assert not (yard / "broker" / "sheets" / "yardlamp.txt").exists()


def test_a_new_password_ends_the_old_one_and_laidup_s_own_is_kept_where_it_reads_it(yard):
    access(yard, "add", "shedgate")
    old = password_of(yard, "shedgate")
    assert access(yard, "new-password", "shedgate") == 0
    assert password_of(yard, "shedgate") != old
    kept = yard / "secrets" / "broker.password"
    before = kept.read_text(encoding="utf-8")
    assert access(yard, "new-password", DAEMON) == 0
    assert kept.read_text(encoding="utf-8") != before
    assert not (yard / "broker" / "sheets" / f"{DAEMON}.txt").exists()


def test_passwords_are_hashed_as_mosquitto_does_it(tmp_path):
    """mosquitto's own tool is the source: of its salt, our sum gives its hash."""
    file = tmp_path / "passwords"
    file.touch(mode=0o600)
    made = [need("mosquitto_passwd", "mosquitto"), "-b", str(file), "shedgate", "thin-ice-7"]
    subprocess.run(made, check=True, timeout=10)
    kind, rounds, salt, theirs = file.read_text().strip().partition(":")[2].split("$")[1:]
    ours = hashlib.pbkdf2_hmac("sha512", b"thin-ice-7", base64.b64decode(salt), int(rounds), 64)
    assert (kind, base64.b64encode(ours).decode()) == ("7", theirs)
    _, _, our_rounds, our_salt, our_hash = hash_password("thin-ice-7").split("$")
    assert (our_rounds, len(our_salt), len(our_hash)) == (rounds, len(salt), len(theirs))


def test_nothing_secret_is_on_the_screen_unless_it_is_asked_for(yard, capsys):
    access(yard, "add", "shedgate")
    access(yard, "new-password", "shedgate")
    access(yard, "list")
    said = capsys.readouterr()
    secrets = [path for path in (yard / "broker").glob("*.key")]
    for secret in (
        password_of(yard, "shedgate"),
        (yard / "secrets" / "broker.password").read_text(encoding="utf-8"),
        *(path.read_text(encoding="utf-8") for path in secrets),
    ):
        assert secret not in said.out + said.err
    access(yard, "add", "yardgate", "--show")
    assert password_of(yard, "yardgate") in capsys.readouterr().out


def test_the_list_for_machines_names_users_and_topics_and_no_password(yard, capsys):
    access(yard, "add", "shedgate")
    capsys.readouterr()
    access(yard, "list", "--json")
    said = capsys.readouterr().out
    listed = json.loads(said)
    [device] = [each for each in listed["users"] if each["user"] == "shedgate"]
    assert [each["access"] for each in device["topics"]] == ["write"]
    assert listed["certificate_days_left"] > 300
    assert password_of(yard, "shedgate") not in said


def test_every_file_is_its_user_s_alone(yard):
    access(yard, "add", "shedgate")
    made = [path for path in yard.rglob("*")]
    assert {oct(stat.S_IMODE(path.stat().st_mode)) for path in made if path.is_file()} == {"0o600"}
    assert {oct(stat.S_IMODE(path.stat().st_mode)) for path in made if path.is_dir()} == {"0o700"}


def test_add_without_a_name_takes_the_users_that_sensors_stand_behind(yard, capsys):
    file = yard / "yard.toml"
    sensor = (
        '\n[[sensors]]\nname = "urn:dev:ops:{0}"\nspace = "cold-shed"\nuser = "{0}"\nnote = "{1}"\n'
    )
    added = sensor.format("shedgate", "post <3>") + sensor.format("slipgate", "slip")
    file.write_text(file.read_text(encoding="utf-8") + added, encoding="utf-8")
    access(yard, "add", "slipgate")
    assert access(yard, "add") == 0
    assert {user.name for user in BrokerFolder(yard / "broker").read_users().users} == {
        DAEMON, "shedgate", "slipgate",
    }  # fmt: skip
    page = (yard / "broker" / "sheets" / "shedgate.html").read_text(encoding="utf-8")
    assert "urn:dev:ops:shedgate, Cold shed, post &lt;3&gt;" in page
    assert "://" not in page.replace("http-equiv", ""), "a printed page asks no other host"
    assert access(yard, "add") == 0
    assert "name another" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("add", "Shed/gate"), "is no user's name"),
        (("add", DAEMON), "there is such a user"),
        (("revoke", "gone"), f"there is no such user. Users: {DAEMON}."),
        (("revoke", DAEMON), "without it nobody watches"),
        (("begin", "--host", "192.0.2.10"), "every device trusts it"),
        (("renew-certificate", "--host", "https://x"), "no name or address"),
        (("renew-certificate", "--ca-key", "no.key"), "key is not there"),
    ],
)
def test_what_will_not_do_is_named_and_nothing_changes(yard, capsys, words, told):
    folder = yard / "broker"
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert access(yard, *words) == 2
    assert told in capsys.readouterr().err
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_folder_of_another_yard_is_not_taken_for_this_one_s(yard, tmp_path, capsys):
    init(tmp_path / "other", name="Other")
    folder = str(tmp_path / "other" / "broker")
    assert access(yard, "add", "shedgate", "--folder", folder) == 2
    assert "it is of the yard other" in capsys.readouterr().err


def openssl(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["openssl", *words], text=True, capture_output=True, timeout=20)


def test_the_certificate_holds_for_the_names_that_it_was_made_for(yard):
    """openssl is the judge."""
    authority, certificate = (str(yard / "broker" / name) for name in ("ca.crt", "broker.crt"))
    verify = ["verify", "-x509_strict", "-purpose", "sslserver", "-CAfile", authority]
    for host in (["-verify_ip", "192.0.2.10"], ["-verify_hostname", "localhost"]):
        found = openssl(*verify, *host, certificate)
        assert found.returncode == 0, found.stderr
    assert openssl(*verify, "-verify_ip", "192.0.2.11", certificate).returncode != 0
    shown = openssl("x509", "-in", authority, "-noout", "-fingerprint", "-sha256").stdout
    assert shown.strip().partition("=")[2] == certificate_fingerprint(Path(authority).read_bytes())


def test_a_renewed_certificate_is_of_the_same_authority_with_the_key_from_a_stick(
    yard, tmp_path, monkeypatch
):
    folder = yard / "broker"
    stick = tmp_path / "stick.key"
    shutil.move(folder / "ca.key", stick)
    before = (folder / "ca.crt").read_bytes(), (folder / "broker.crt").read_bytes()
    assert access(yard, "renew-certificate") == 2
    with stick.open("rb") as key:
        text = type("Text", (), {"buffer": key})()
        monkeypatch.setattr("sys.stdin", text)
        assert access(yard, "renew-certificate", "--ca-key", "-") == 0
    assert (folder / "ca.crt").read_bytes() == before[0]
    assert (folder / "broker.crt").read_bytes() != before[1]
    names = ["-verify_ip", "192.0.2.10"]
    checked = openssl(
        "verify", "-CAfile", str(folder / "ca.crt"), *names, str(folder / "broker.crt")
    )
    assert checked.returncode == 0, checked.stderr


def test_another_authority_s_key_signs_nothing():
    key, _ = make_authority("One", NOW)
    _, other = make_authority("Other", NOW)
    with pytest.raises(ConfigurationError, match="not the key of this yard's authority"):
        make_certificate(key, other, ["localhost"], NOW)
    with pytest.raises(ConfigurationError, match="no private key"):
        make_certificate(b"no key", other, ["localhost"], NOW)


def test_the_authority_outlives_its_devices_and_ends_before_2050():
    _, authority = make_authority("Böotsplatz " * 20, NOW)
    ends = x509.load_pem_x509_certificate(authority).not_valid_after_utc
    assert NOW + timedelta(days=365 * 15) < ends < datetime(2050, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    ("later", "told"), [(400, "it holds for 330"), (700, "ends in 30 days"), (800, "has ended")]
)
def test_check_warns_before_the_broker_s_certificate_ends(tmp_path, monkeypatch, later, told):
    from monitor.commands import warnings

    key, authority = make_authority("One", NOW)
    (tmp_path / "broker.crt").write_bytes(make_certificate(key, authority, ["localhost"], NOW)[1])

    class Later(datetime):
        @classmethod
        def now(cls, _):
            return NOW + timedelta(days=later)

    monkeypatch.setattr(warnings, "datetime", Later)
    assert told in warnings.tell_certificate(tmp_path / "broker.crt")
    assert days_left((tmp_path / "broker.crt").read_bytes(), NOW) == 730


def test_a_full_disk_leaves_the_users_as_they_were(yard, monkeypatch, capsys):
    before = (yard / "broker" / "laidup.passwords").read_bytes()

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert access(yard, "add", "shedgate") == 2
    assert "No space left on device" in capsys.readouterr().err
    assert (yard / "broker" / "laidup.passwords").read_bytes() == before
    assert list(yard.rglob("*.new")) == []


def test_a_link_in_the_folder_has_root_copy_nobody_s_file(yard, tmp_path):
    secret = tmp_path / "secret"
    secret.write_text("not the broker's")
    (yard / "broker" / "broker.key").unlink()
    (yard / "broker" / "broker.key").symlink_to(secret)
    script = str(DEPLOY / "put-in-place.sh")
    done = subprocess.run(
        ["sh", script, str(yard / "broker"), str(tmp_path / "etc")], capture_output=True, text=True
    )
    assert done.returncode == 1
    assert "no such plain file" in done.stderr
    assert not (tmp_path / "etc").exists()


ACTS = st.lists(
    st.tuples(st.sampled_from(["add", "revoke", "new"]), st.sampled_from(["a", "b", "c"])),
    max_size=12,
)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(acts=ACTS)
def test_after_any_acts_the_three_files_name_the_same_users(tmp_path_factory, acts):
    folder = BrokerFolder(tmp_path_factory.mktemp("acts") / "broker")
    folder.begin_yard("mill", "Mill", ["localhost"], NOW)
    there = {"laidup-mill"}
    for act, name in acts:
        try:
            if act == "add":
                folder.add_user(name, UserKind.SENDER, "", NOW)
                assert name not in there
                there.add(name)
            elif act == "revoke":
                folder.revoke_user(name)
                there.remove(name)
            else:
                folder.change_password(name, NOW)
        except ConfigurationError:
            assert (name in there) == (act == "add")
    lines = (folder.path / "laidup.passwords").read_text().splitlines()
    listed = re.findall(r"^user (\S+)$", (folder.path / "laidup.acl").read_text(), re.MULTILINE)
    assert {user.name for user in folder.read_users().users} == there
    names = there | {"laidup-mill-lamp"}  # laidup's second connection, which is no user of its own
    assert {line.partition(":")[0] for line in lines} == names == set(listed)
    assert len(lines) == len(listed) == len(names)
    with pytest.raises(ConfigurationError, match="there is such a user"):
        folder.add_user("laidup-mill-lamp", UserKind.SENDER, "", NOW)


def test_passwords_are_long_random_and_can_be_typed():
    made = {make_password() for _ in range(200)}
    assert len(made) == 200
    assert all(re.fullmatch(r"([2-9a-km-np-z]{6}-){3}[2-9a-km-np-z]{6}", one) for one in made)


def test_a_check_leaves_the_connections_of_a_watch_that_runs_alone(yard, placed, capsys):
    file = yard / "yard.toml"
    text = file.read_text(encoding="utf-8").replace("port = 8883", f"port = {placed.port}")
    lamp = '\n[annunciator]\ntopic = "mill-lane-storage/annunciator"\n'
    lamp += f'username = "{DAEMON}-lamp"\n'
    file.write_text(text + lamp, encoding="utf-8")
    loaded = load_settings(file)
    kept = ["-r", "-q", "1", "-t", "mill-lane-storage/air", "-m", "1"]
    own = (yard / "secrets" / "broker.password").read_text(encoding="utf-8")
    run("mosquitto_pub", placed, *as_user(yard, DAEMON, own), *kept, check=True)
    faults: list[HealthFault] = []
    now = datetime.now(UTC)
    watch_says = AccountSocket(
        account_socket(loaded.store_url, loaded.file),
        lambda: HealthAccount(at=now, faults=tuple(faults)),
    )
    watch_says.start()
    connected = []
    try:
        for user in (DAEMON, f"{DAEMON}-lamp"):
            follower = [need("mosquitto_sub", "mosquitto-clients"), "-h", placed.host, "-p"]
            follower += [str(placed.port), *as_user(yard, user, own), "-t", "#", "-v"]
            # It comes back of itself, and its debug lines tell of each connection.
            connected.append(subprocess.Popen([*follower, "-d"], stdout=subprocess.PIPE, text=True))
        for one in connected:
            while "SUBACK" not in one.stdout.readline():
                pass
        assert main(["check", "--config", str(yard)]) == 0
        said = capsys.readouterr().out
        assert "Broker: laidup runs and says that it is connected" in said
        assert f"shows its state on mill-lane-storage/annunciator/state as {DAEMON}-lamp" in said
        faults.append(
            HealthFault(kind=HealthFaultKind.BROKER, is_grave=True, what="It broke.",
                        remedy="Start it.", since=now)
        )  # fmt: skip
        assert main(["check", "--config", str(yard)]) == 1
        assert "Broker: FAILED. laidup runs, and says: It broke. Start it." in (
            capsys.readouterr().out
        )
    finally:
        watch_says.stop()
        for one in connected:
            one.terminate()
    for one in connected:
        assert "sending CONNECT" not in one.communicate(timeout=10)[0]  # nobody had to come back
