"""A long file of readings taken in: time and memory beside what pandas takes to read the same file.

``python -m tests.bench.import_readings`` writes a logger's file of a million rows into a temporary
folder, reads it by pandas and takes it in by ``laidup import readings``, each in a process of its
own. The import checks, flags and stores each reading, and keeps the store durable.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.commands.yard_files import copied_yard

ROOT = Path(__file__).parents[2]
_READ = "import sys, pandas; print(len(pandas.read_csv(sys.argv[1], parse_dates=['at'])))"


def write_rows(file: Path, count: int, sensors: list[str]) -> None:
    """Write a temperature a minute of each sensor in turn, one row a reading."""
    begin = datetime.now(UTC).replace(microsecond=0) - timedelta(minutes=count // len(sensors) + 1)
    with file.open("w", encoding="utf-8") as out:
        out.write("at,sensor,label,unit,value\n")
        for n in range(count):
            minute, which = divmod(n, len(sensors))
            at = (begin + timedelta(minutes=minute)).isoformat().replace("+00:00", "Z")
            value = 2.0 + (minute % 1440) / 288.0 + which / 10.0
            out.write(f"{at},{sensors[which]},temperature,Cel,{value:.2f}\n")


def time_and_memory(line: list[str]) -> tuple[float, int]:
    """Wall time [s] and largest memory [bytes] of a program."""
    begun = time.perf_counter()
    child = subprocess.Popen(line, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    said = child.stdout.read().decode()
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise SystemExit(f"{line}: {said}")
    return time.perf_counter() - begun, used.ru_maxrss * 1024


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    count = parser.parse_args().rows
    from monitor.settings.load import load_settings
    from monitor.yard.space import Mount

    with tempfile.TemporaryDirectory() as folder:
        config = copied_yard(Path(folder) / "yard")
        air = [one for one in load_settings(config).yard.sensors if one.mount is Mount.AIR]
        file = Path(folder) / "logger.csv"
        write_rows(file, count, [one.name for one in air[:2]])
        size = file.stat().st_size / 1e6
        read_s, read_bytes = time_and_memory([sys.executable, "-c", _READ, str(file)])
        line = [sys.executable, "-m", "monitor", "import", "readings", str(file)]
        took_s, took_bytes = time_and_memory([*line, "--config", str(config)])
        again_s, _ = time_and_memory([*line, "--config", str(config)])
        stored = sum(one.stat().st_size for one in config.parent.glob("*.db*"))
    print(f"{count:,} rows, {size:.0f} MB")
    print(f"pandas reads it in {read_s:.1f} s, {read_bytes / 1e6:.0f} MB at most")
    print(
        f"laidup import readings: {took_s:.1f} s ({took_s / read_s:.1f} x pandas,"
        f" {count / took_s:,.0f} rows a second), {took_bytes / 1e6:.0f} MB at most"
        f" ({took_bytes / read_bytes:.2f} x); the store is {stored / count:.1f} bytes a reading"
    )
    print(f"the same file once more, which adds nothing: {again_s:.1f} s")


if __name__ == "__main__":
    main()
