"""deploy/INSTALL.md followed word for word, on a machine that is folders and stand-ins.

Real are laidup, its store, mosquitto, nginx, openssl and curl, over TLS on 127.0.0.1. Stand-ins
have the place of what would change the machine that the tests run on: apt, users, systemd, git.
"""

import os
import re
import shutil
import signal
import subprocess
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.deploy.guide import GUIDE, read_sections, script_of
from tests.real.need import free_port, need

ROOT = Path(__file__).parents[2]
OWN_FOLDERS = ("/opt/laidup", "/srv/", "/etc/", "/usr/local/bin", "/var/cache/laidup")
DOES_NOTHING = ("apt-get", "useradd", "userdel", "chown", "git-away")

INSTALL = """#!/bin/sh
# Nobody is given another's file.
for word; do
    shift
    case "$word" in -o | -g) skip=1; continue ;; esac
    [ -z "${skip:-}" ] || { skip=; continue; }
    set -- "$@" "$word"
done
exec /usr/bin/install "$@"
"""
RUNUSER = """#!/bin/sh
while [ "$1" != -- ]; do shift; done
shift
exec "$@"
"""
GIT = """#!/bin/sh
case "$*" in
"clone "*) mkdir -p "$TREE/opt" && ln -s "$2" "$3" ;;
*rev-parse*) echo 0123abc ;;
*) echo "git $*" >>"$TREE/said" ;;
esac
"""
PYTHON3 = """#!/bin/sh
case "$1" in
*/bootstrap.py) echo "python3 $*" >>"$TREE/said" ;;
*) exec /usr/bin/python3 "$@" ;;
esac
"""
SYSTEMCTL = """#!/bin/sh
# Starts and ends what the guide starts and ends, each with its process id beside it.
verb=$1
for what; do :; done
stop() {
    [ ! -f "$TREE/$1.pid" ] || { kill "$(cat "$TREE/$1.pid")"
        while kill -0 "$(cat "$TREE/$1.pid")" 2>/dev/null; do sleep 0.1; done
        rm -f "$TREE/$1.pid"; }
}
begin() {
    "$@" >>"$TREE/log" 2>&1 </dev/null & echo $! >"$TREE/$what.pid"
}
case "$verb $what" in
"restart mosquitto")
    stop mosquitto
    sed -i "s/^port = 8883/port = $BROKER/; s/^port = 8017/port = $PAGE/" \\
        "$TREE/srv/laidup/yard.toml"
    sed -i "s#/etc/mosquitto#$TREE/etc/mosquitto#; s#listener 8883#listener $BROKER 127.0.0.1#" \\
        "$TREE"/etc/mosquitto/conf.d/*.conf 2>/dev/null || true
    [ ! -f "$TREE/etc/mosquitto/conf.d/laidup-yard.conf" ] ||
        begin "$MOSQUITTO" -c "$TREE/mosquitto.conf"
    [ ! -f "$TREE/mosquitto.pid" ] || for _ in $(seq 300); do
        openssl s_client -connect "127.0.0.1:$BROKER" </dev/null >/dev/null 2>&1 && break
        sleep 0.1
    done ;;
"reload mosquitto") kill -HUP "$(cat "$TREE/mosquitto.pid")"; sleep 0.5 ;;
"restart nginx")
    stop nginx
    sed -i "s#/etc/nginx#$TREE/etc/nginx#; s#127.0.0.1:8017#127.0.0.1:$PAGE#" \\
        "$TREE/etc/nginx/conf.d/laidup.conf" 2>/dev/null || true
    sed -i "s#listen 443#listen 127.0.0.1:$TLS#; s#listen 80#listen 127.0.0.1:$PLAIN#; /::/d" \\
        "$TREE/etc/nginx/conf.d/laidup.conf" 2>/dev/null || true
    [ -f "$TREE/etc/nginx/conf.d/laidup.conf" ] || exit 0
    begin "$NGINX" -c "$TREE/nginx.conf"
    for _ in $(seq 100); do # until it listens, as systemd waits for its start
        openssl s_client -connect "127.0.0.1:$TLS" </dev/null >/dev/null 2>&1 && break
        sleep 0.1
    done ;;
"enable laidup" | "start laidup")
    begin laidup run
    for _ in $(seq 1200); do # until it tells how it is, as systemd waits for its word
        [ -S "$TREE/srv/laidup/data/laidup.db-watch" ] && break
        sleep 0.1
    done ;;
"stop laidup" | "disable laidup") stop laidup; rm -f "$TREE/srv/laidup/data/laidup.db-watch" ;;
esac
echo "systemctl $*" >>"$TREE/said"
"""


@dataclass(frozen=True)
class Machine:
    """A folder that stands for a machine's root, and what the guide said and did in it."""

    tree: Path
    environment: dict[str, str]
    ports: dict[str, str]

    def in_tree(self, text: str) -> str:
        """Commands with the folders and ports of this machine."""
        placed = "put-in-place.sh /srv/laidup/broker"
        text = text.replace(placed, f"{placed} /etc/mosquitto\nsystemctl reload mosquitto || true")
        for folder in OWN_FOLDERS:
            text = re.sub(rf"(?<![\w/.]){folder}", f"{self.tree}{folder}", text)
        for written, here in self.ports.items():
            text = text.replace(written, here)
        return text

    def follow(self, commands: str) -> subprocess.CompletedProcess[str]:
        """Run commands as a person would, ending at the first that fails."""
        script = self.in_tree(commands)
        return subprocess.run(
            ["sh", "-eu", "-c", script],
            env=self.environment,
            cwd=self.tree,
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            timeout=600,
        )


@pytest.fixture
def machine(tmp_path) -> Iterator[Machine]:
    broker, page, tls, plain = (str(free_port()) for _ in range(4))
    stands = tmp_path / "bin"
    stands.mkdir()
    nothing = "#!/bin/sh\nexit 0\n"
    written = dict.fromkeys(DOES_NOTHING, nothing) | {
        "install": INSTALL, "runuser": RUNUSER, "git": GIT, "python3": PYTHON3,
        "systemctl": SYSTEMCTL, "nginx": nothing,
    }  # fmt: skip
    for name, text in written.items():
        (stands / name).write_text(text)
        (stands / name).chmod(0o755)
    for folder in ("usr/local/bin", "etc/nginx/conf.d", "etc/systemd/system", "kept"):
        (tmp_path / folder).mkdir(parents=True)
    user = "user root\n" if os.geteuid() == 0 else ""
    (tmp_path / "mosquitto.conf").write_text(
        f"{user}persistence_location {tmp_path}/kept/\n"
        f"include_dir {tmp_path}/etc/mosquitto/conf.d\n"
    )
    (tmp_path / "nginx.conf").write_text(
        f"daemon off;\npid {tmp_path}/nginx.own;\nerror_log {tmp_path}/nginx.log;\n"
        f"{'user root;' if os.geteuid() == 0 else ''}\nevents {{}}\nhttp {{\n"
        f"access_log {tmp_path}/access.log;\ninclude {tmp_path}/etc/nginx/conf.d/*.conf;\n}}\n"
    )
    environment = os.environ | {
        "PATH": f"{stands}:{tmp_path}/usr/local/bin:{os.environ['PATH']}:/usr/sbin",
        "TREE": str(tmp_path), "LAIDUP_CONFIG": str(tmp_path / "srv" / "laidup"),
        "BROKER": broker, "PAGE": page, "TLS": tls, "PLAIN": plain,
        "NGINX": need("nginx", "nginx-light"), "MOSQUITTO": need("mosquitto", "mosquitto"),
    }  # fmt: skip
    ports = {"-p 8883": f"-p {broker}", ":443:": f":{tls}:"}
    ports |= {"https://watch.mill-lane.example/": f"https://watch.mill-lane.example:{tls}/"}
    yield Machine(tmp_path, environment, ports)
    for pid in tmp_path.glob("*.pid"):
        with suppress(ProcessLookupError):
            os.kill(int(pid.read_text()), signal.SIGKILL)


def everything_said(tree: Path) -> str:
    """What the services of the test's machine logged."""
    logs = [tree / name for name in ("log", "nginx.log", "said")]
    return "\n".join(f"-- {log.name}\n{log.read_text()}" for log in logs if log.exists())


def test_the_guide_is_followed_word_for_word_from_a_bare_machine_to_its_removal(machine):
    tree, said = machine.tree, {}
    for heading, commands in read_sections().items():
        if heading.startswith("10"):
            kept = {path.name for path in (tree / "srv").rglob("*") if path.is_file()}
        followed = machine.follow(commands.replace("<URL>", str(ROOT)))
        assert followed.returncode == 0, f"{heading}\n{followed.stdout}\n{everything_said(tree)}"
        said[heading.partition(".")[0]] = followed.stdout
    # Over TLS, with the password that is laidup's own.
    assert re.search(r"^Broker: .* lets laidup read mill-lane/#", said["5"], re.MULTILINE)
    assert "FAILED" not in said["5"] + said["8"]
    assert "rows are back" in said["8"]
    # All is gone but the yard's own folder and its copies.
    assert {path.name for path in (tree / "srv").rglob("*") if path.is_file()} >= kept - {
        "laidup.db-wal", "laidup.db-shm",
    }  # fmt: skip
    assert {"laidup.db", "yard.toml", "before-upgrade.db"} <= kept
    left = [path for name in ("opt", "etc", "usr") for path in (tree / name).rglob("*laidup*")]
    assert left == []


def test_no_command_of_the_guide_leaves_the_machine_open():
    text = GUIDE.read_text(encoding="utf-8")
    assert "chmod 777" not in text
    assert re.findall(r"allow_anonymous true|--insecure|curl [^\n]*-k ", text) == []


def test_files_that_the_guide_names_are_there():
    named = re.findall(r"/opt/laidup/((?:deploy|monitor)[\w./-]*)", GUIDE.read_text("utf-8"))
    named += re.findall(r"`((?:deploy|tests)/[\w./-]+)`", GUIDE.read_text("utf-8"))
    assert len(named) > 8
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_the_guide_s_script_is_what_a_shell_reads():
    done = subprocess.run(["sh", "-n"], input=script_of("x"), text=True, capture_output=True)
    assert done.stderr == ""
    assert shutil.which("sh")
