"""The broker configuration that deploy/ gives a yard does what its comments say."""

import subprocess
from datetime import UTC, datetime

import pytest

from monitor.intake.drops import DROPPED_TOPIC
from monitor.settings.load import load_settings, shipped_folder
from tests.real.broker import Broker
from tests.real.need import need, wait_until
from tests.real.yard_broker import DAEMON, as_user


def run(program: str, broker: Broker, *options: str, **more) -> subprocess.CompletedProcess[str]:
    where = ["-h", broker.host, "-p", str(broker.port)]
    command = [need(program, "mosquitto-clients"), *where, *options]
    return subprocess.run(command, text=True, capture_output=True, timeout=30, **more)


def test_a_queue_beyond_the_default_limit_survives_a_killed_broker(broker):
    # 1500 messages for a subscriber that is away, then KILL: with mosquitto's defaults 500 are
    # dropped at 1000 (max_queued_messages) and the rest goes with the process (autosave 1800 s).
    session = ["-i", "laidup", "-c", "-q", "1", "-t", "yard/#"]
    run("mosquitto_sub", broker, *session, "-E", check=True)
    sent = [str(number) for number in range(1500)]
    lines = "\n".join(sent) + "\n"
    run("mosquitto_pub", broker, "-q", "1", "-t", "yard/shed", "-l", input=lines, check=True)
    kept = broker.folder / "mosquitto.db"
    published = datetime.now(UTC).timestamp()
    wait_until(lambda: kept.exists() and kept.stat().st_mtime > published + 0.5, 10, "an autosave")
    broker.kill()
    broker.start()
    heard = run("mosquitto_sub", broker, *session, "-C", "1500", "-W", "10")
    assert heard.stdout.split() == sent


def test_the_yard_s_broker_takes_a_sensor_s_own_topic_and_no_other(yard_broker):
    sensor, daemon = as_user(yard_broker, "shedgate"), as_user(yard_broker, DAEMON)
    session = ["-i", DAEMON, "-c", "-q", "1", "-t", "#"]
    run("mosquitto_sub", yard_broker, *daemon, *session, "-E", check=True)
    for topic in (
        "mill-lane/otherbay/air",
        "mill-lane/shedgate/air",
        "shedgate",
        "millpond/shedgate/air",
    ):
        run("mosquitto_pub", yard_broker, *sensor, "-q", "1", "-t", topic, "-m", topic, check=True)
    heard = run("mosquitto_sub", yard_broker, *daemon, *session, "-W", "2")
    assert heard.stdout.split() == ["mill-lane/shedgate/air"]


def test_nobody_takes_the_daemon_s_session_with_another_password(yard_broker):
    sensor, daemon = as_user(yard_broker, "shedgate"), as_user(yard_broker, DAEMON)
    session = ["-i", DAEMON, "-q", "1", "-t", "#"]
    run("mosquitto_sub", yard_broker, *daemon, *session, "-c", "-E", check=True)
    topic = ["-t", "mill-lane/shedgate/air", "-m", "4.5"]
    run("mosquitto_pub", yard_broker, *sensor, "-q", "1", *topic, check=True)
    for clean in ([], ["-c"]):  # to empty it, or to have what waits there
        taken = run("mosquitto_sub", yard_broker, *sensor, *session, *clean, "-W", "2")
        assert taken.stdout == ""
    heard = run("mosquitto_sub", yard_broker, *daemon, *session, "-c", "-C", "1", "-W", "15")
    assert heard.stdout == "4.5\n"


def test_a_session_under_the_daemon_s_usual_name_goes_on():
    """laidup's client id is made of the yard's id; its user is called the same."""
    client_id = load_settings(shipped_folder() / "yard.toml").broker.client_id
    assert client_id == DAEMON


def test_one_yard_s_users_reach_nothing_of_another_s(yard_broker):
    topics = ["mill-lane/shedgate/air", "millpond/pondgate/air", "mill-lane/lamp/state"]
    # Kept by the broker, so that each daemon sees afterwards what was let through.
    for user in ("laidup-millpond", "pondgate", "shedgate"):
        for topic in topics:
            sent = ["-r", "-q", "1", "-t", topic, "-m", f"{user}:{topic}"]
            run("mosquitto_pub", yard_broker, *as_user(yard_broker, user), *sent, check=True)

    def heard_by(user):
        wanted = [part for topic in ("#", *topics) for part in ("-t", topic)]
        heard = run("mosquitto_sub", yard_broker, *as_user(yard_broker, user), *wanted, "-W", "3")
        return set(heard.stdout.split())

    assert heard_by(DAEMON) == {"shedgate:mill-lane/shedgate/air"}
    assert heard_by("laidup-millpond") == {"pondgate:millpond/pondgate/air"}


def test_a_sensor_reads_nothing_from_the_yard_s_broker(yard_broker):
    sensor, daemon = as_user(yard_broker, "shedgate"), as_user(yard_broker, DAEMON)
    retained = ["-r", "-q", "1", "-t", "mill-lane/shedgate/air", "-m", "4.5"]
    run("mosquitto_pub", yard_broker, *daemon, *retained, check=True)
    assert run("mosquitto_sub", yard_broker, *daemon, "-t", "#", "-W", "2").stdout == "4.5\n"
    assert run("mosquitto_sub", yard_broker, *sensor, "-t", "#", "-W", "2").stdout == ""


def test_laidup_alone_reads_how_many_messages_the_broker_has_dropped(yard_broker):
    topic = ["-t", DROPPED_TOPIC, "-C", "1", "-W", "15"]
    heard = run("mosquitto_sub", yard_broker, *as_user(yard_broker, DAEMON), *topic)
    assert heard.stdout.strip().isdigit(), heard.stderr
    others = ["-t", DROPPED_TOPIC, "-C", "1", "-W", "2"]
    refused = run("mosquitto_sub", yard_broker, *as_user(yard_broker, "shedgate"), *others)
    assert refused.stdout == ""


@pytest.mark.parametrize(
    ("options", "refusal"),
    [
        (["--cafile", "{folder}/broker.crt"], "refused"),
        (["--cafile", "{folder}/broker.crt", "-u", DAEMON, "-P", "guess"], "refused"),
        ([], "lost"),
        (["--capath", "/etc/ssl/certs", "-u", DAEMON, "-P", f"{DAEMON}-pw"], "TLS"),
    ],
    ids=["no password", "wrong password", "no TLS", "unknown certificate"],
)
def test_the_yard_s_broker_is_closed_to_whoever_does_not_prove_himself(
    yard_broker, options, refusal
):
    options = [option.replace("{folder}", str(yard_broker.folder)) for option in options]
    tried = run("mosquitto_pub", yard_broker, *options, "-t", "yard/laidup/x", "-m", "1")
    assert tried.returncode != 0
    assert refusal in tried.stdout + tried.stderr
