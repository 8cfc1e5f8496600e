"""deploy/nginx/laidup.conf on loopback, with a certificate of a yard's own authority."""

import os
import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
import requests
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

from monitor.commands.access.certificates import make_authority, make_certificate
from tests.real.need import free_port, need, wait_until

CONFIGURATION = Path(__file__).parents[2] / "deploy" / "nginx" / "laidup.conf"
NAME = "watch.mill-lane.example"
SECRET = "KtY3kkQ0d9vV1l5Yw2uKJmZp4o6bN8sTq7rXcE0aHfI"


@dataclass(frozen=True)
class Proxy:
    """nginx as a yard runs it; only ports, paths and its user differ."""

    folder: Path
    tls: int
    plain: int
    asked: list[Request]  # what came through to laidup's place

    def ask(self, path: str, method: str = "GET", **more) -> requests.Response:
        """Ask as a browser that trusts the yard's authority and knows the page's name."""
        with requests.Session() as session:
            session.trust_env = False
            session.mount("https://", _Named())
            return session.request(
                method, f"https://127.0.0.1:{self.tls}{path}",
                headers={"Host": NAME} | more.pop("headers", {}),
                verify=str(self.folder / "ca.crt"), timeout=20, **more,
            )  # fmt: skip

    def logged(self) -> str:
        return "".join(path.read_text() for path in self.folder.glob("*.log"))


class _Named(requests.adapters.HTTPAdapter):
    """Looks for the page's name in the certificate, whatever address it connects to."""

    def init_poolmanager(self, *words, **more):
        super().init_poolmanager(*words, **more, server_hostname=NAME, assert_hostname=NAME)


@pytest.fixture
def proxy(tmp_path, httpserver: HTTPServer) -> Iterator[Proxy]:
    asked: list[Request] = []

    def answer(request: Request) -> Response:
        asked.append(request)
        return Response(
            "laidup",
            headers={
                "Referrer-Policy": "no-referrer",
                "Strict-Transport-Security": "max-age=31536000",
            },
        )

    httpserver.expect_request(re.compile("/.*")).respond_with_handler(answer)
    tls, plain = free_port(), free_port()
    ca_key, ca = make_authority("Mill Lane", datetime.now(UTC))
    key, certificate = make_certificate(ca_key, ca, [NAME], datetime.now(UTC))
    (tmp_path / "ca.crt").write_bytes(ca)
    (tmp_path / f"{NAME}.crt").write_bytes(certificate)
    (tmp_path / f"{NAME}.key").write_bytes(key)
    text = CONFIGURATION.read_text(encoding="utf-8")
    for written, here in [
        ("listen 443", f"listen 127.0.0.1:{tls}"),
        ("listen 80", f"listen 127.0.0.1:{plain}"),
        ("/etc/nginx/laidup", str(tmp_path)),
        ("127.0.0.1:8017", f"127.0.0.1:{httpserver.port}"),
    ]:
        assert written in text
        text = text.replace(written, here)
    text = "\n".join(line for line in text.splitlines() if "listen [::]" not in line)
    user = "user root;\n" if os.geteuid() == 0 else ""
    (tmp_path / "nginx.conf").write_text(
        f"{user}daemon off;\npid {tmp_path}/nginx.pid;\nerror_log {tmp_path}/error.log info;\n"
        f"events {{}}\nhttp {{\naccess_log {tmp_path}/access.log;\n{text}\n}}\n"
    )
    command = [need("nginx", "nginx-light"), "-c", str(tmp_path / "nginx.conf")]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as running:
        made = Proxy(tmp_path, tls, plain, asked)
        wait_until((tmp_path / "nginx.pid").exists, 10, "nginx")
        yield made
        running.terminate()


@pytest.mark.parametrize("path", ["/", "/health", "/api/assess", "/sign-in", "/craft/k2"])
def test_laidup_hears_by_which_way_and_from_whom_and_nothing_that_the_caller_made_up(proxy, path):
    made_up = {"X-Forwarded-For": "203.0.113.9", "X-Forwarded-Proto": "http"}
    assert proxy.ask(path, headers=made_up).status_code == 200
    heard = proxy.asked[-1].headers
    assert heard["X-Forwarded-For"] == "127.0.0.1"
    assert heard["X-Forwarded-Proto"] == "https"
    assert heard["Host"] == NAME


@pytest.mark.parametrize("first", ["answer", "owner", "password"])
def test_a_secret_link_stands_in_no_log(proxy, first):
    assert proxy.ask(f"/{first}/{SECRET}").status_code == 200
    assert proxy.ask(f"/{first}/{SECRET}", "POST").status_code == 200
    assert proxy.ask("/static/page.css").status_code == 200
    for _ in range(40):
        last = proxy.ask(f"/{first}/{SECRET}").status_code
    assert last == 429
    over_plain = f"http://127.0.0.1:{proxy.plain}/{first}/{SECRET}"
    requests.get(over_plain, headers={"Host": NAME}, allow_redirects=False, timeout=20)
    assert SECRET not in proxy.logged()


def test_a_program_s_key_goes_through(proxy):
    said = {"Authorization": f"Bearer laidup-key-{SECRET}"}
    proxy.ask("/api/craft/k1/layup", headers=said)
    assert proxy.asked[-1].headers["Authorization"] == said["Authorization"]


def test_guesses_at_passwords_are_counted(proxy):
    codes = [proxy.ask("/sign-in", "POST", data={"name": "x"}).status_code for _ in range(60)]
    assert set(codes) == {200, 429}
    assert codes.count(200) < 40


def test_whoever_hammers_at_the_door_takes_no_answer_to_a_warning(proxy):
    # All phones of a yard may share the address of somebody who guesses, or opens links.
    for path in ("/sign-in", f"/password/{SECRET}"):
        codes = [proxy.ask(path, "POST").status_code for _ in range(40)]
        assert codes[-1] == 429
    assert proxy.ask(f"/answer/{SECRET}", "POST").status_code == 200


def test_ten_open_pages_behind_one_address_are_all_renewed(proxy):
    # Each asks every 1.5 s: what comes within nine seconds of them, all at once.
    codes = {proxy.ask("/").status_code for _ in range(60)}
    assert codes == {200}


def test_a_body_beyond_laidup_s_own_limit_is_refused(proxy):
    assert proxy.ask("/answer/x", "POST", data=b"x" * 65537).status_code == 413
    assert proxy.ask("/answer/x", "POST", data=b"x" * 65536).status_code == 200


def test_answers_tell_browsers_to_stay_with_tls_and_keep_laidup_s_headers(proxy):
    for path in ("/answer/x", "/"):  # an error of nginx's own too
        found = proxy.ask(path)
        assert found.headers["Strict-Transport-Security"] == "max-age=31536000"
        said = [name for name, _ in found.raw.headers.items()]
        assert said.count("Strict-Transport-Security") == 1
        assert found.headers["Server"] == "nginx"  # no version
    assert proxy.ask("/answer/x").headers["Referrer-Policy"] == "no-referrer"


def test_whoever_comes_without_tls_is_sent_to_it(proxy):
    found = requests.get(
        f"http://127.0.0.1:{proxy.plain}/health", headers={"Host": NAME}, timeout=20,
        allow_redirects=False,
    )  # fmt: skip
    assert (found.status_code, found.headers["Location"]) == (301, f"https://{NAME}/health")


@pytest.mark.parametrize(("version", "taken"), [("-tls1_1", False), ("-tls1_2", True)])
def test_old_tls_is_refused(proxy, version, taken):
    # openssl's own level must be lowered, or it does not even offer the old version.
    command = ["openssl", "s_client", version, "-cipher", "ALL:@SECLEVEL=0", "-CAfile"]
    command += [str(proxy.folder / "ca.crt"), "-verify_return_error", "-verify_hostname", NAME]
    command += ["-servername", NAME, "-connect", f"127.0.0.1:{proxy.tls}"]
    done = subprocess.run(command, input="", text=True, capture_output=True, timeout=20)
    assert (done.returncode == 0) is taken
