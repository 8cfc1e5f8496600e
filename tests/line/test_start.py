"""What cannot start does not stay half alive: a service manager must see it end."""

import socket
import subprocess
import sys


def test_a_taken_port_ends_the_program_and_says_why(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        file = tmp_path / "yard.toml"
        file.write_text(
            f"""
[yard]
id = "mill"
name = "Mill Yard"
timezone = "Europe/Berlin"
latitude = 52.0
longitude = 13.0

[broker]
port = 9

[folder]
path = "mails"

[web]
port = {port}

[[spaces]]
id = "shed"
name = "Shed"
kind = "cold"

[[people]]
id = "ines"
name = "Ines Aldaz"
mail = "ines@mill.example"
roles = ["operator"]
""",
            encoding="utf-8",
        )
        ended = subprocess.run(
            [sys.executable, "-m", "monitor.cli", "run", "--config", str(file)],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
    assert ended.returncode == 1
    assert f"port {port}" in ended.stderr
    assert "set another" in ended.stderr
