"""With the internet cut off the lamp at the yard still follows, and mails wait for it."""

import os
import subprocess
import sys
from pathlib import Path

from tests.alarms.scene import Scene, cold_night
from tests.real.need import need

ROOT = Path(__file__).parents[2]

# Runs inside a network namespace of its own that has nothing but a loopback interface.
INSIDE = """
import subprocess, sys, time
from pathlib import Path
import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion
from monitor.delivery.annunciator import Annunciator, AnnunciatorSettings
from monitor.delivery.channels.mail import MailChannel
from monitor.delivery.channels.mail_settings import MailSettings
from monitor.delivery.post import Post
from tests.alarms.scene import FOUR, Scene
from tests.delivery.scene import same_limits
from monitor.clock import ReadingsClock
from monitor.store.store import Store
from monitor.yard.health import HealthAccount

url, broker, folder = sys.argv[1:]
conf = Path(folder) / "lamp.conf"
conf.write_text("listener 18830 127.0.0.1\\nallow_anonymous true\\nuser root\\n")
process = subprocess.Popen([broker, "-c", str(conf)])
try:
    clock = ReadingsClock(FOUR)
    store = Store(url, "kettlemoss")
    shown = []
    lamp = mqtt.Client(CallbackAPIVersion.VERSION2)
    lamp.on_message = lambda client, data, message: shown.append(message.payload.decode())
    lamp.on_connect = lambda client, *rest: client.subscribe("yard/lamp/state", qos=1)
    lamp.connect_async("127.0.0.1", 18830)
    lamp.reconnect_delay_set(1, 1)
    lamp.loop_start()
    siren = Annunciator(
        store, AnnunciatorSettings(host="127.0.0.1", port=18830, topic="yard/lamp"), clock
    )
    siren.start()
    mail = MailSettings(
        host="192.0.2.1", port=25, security="none", sender="a@yard.example",
        limits=same_limits(1.0),
    )
    done = Post(store, {"mail": MailChannel(mail)}, clock).run_once()
    end = time.monotonic() + 15
    while "high-asks" not in shown and time.monotonic() < end:
        siren.run_once(HealthAccount(at=clock.now()))
        time.sleep(0.1)
    print(shown[-1] if shown else "dark", done.taken, done.put_off)
finally:
    process.terminate()
    process.wait()
"""


def test_the_lamp_follows_and_mails_wait_while_the_internet_is_cut(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    scene.store.close()
    broker = need("mosquitto", "mosquitto")
    apart = [need("unshare", "util-linux"), "--net"]
    if os.geteuid() != 0:
        apart += ["--user", "--map-root-user"]
    need("ip", "iproute2")
    inside = ["sh", "-c", 'ip link set lo up && exec "$@"', "sh", sys.executable, "-c", INSIDE]
    done = subprocess.run(
        [*apart, *inside, scene.url, broker, str(tmp_path)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    # 192.0.2.1 is TEST-NET-1 (RFC 5737): nobody is ever there.
    assert done.stdout.split() == ["high-asks", "0", "1"]
