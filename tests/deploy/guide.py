"""The commands of deploy/INSTALL.md in their order: ``python -m tests.deploy.guide`` prints them.

    python -m tests.deploy.guide URL > guide.sh    with the address that laidup is cloned from

As root, ``sh -eux guide.sh`` in a fresh Debian follows the guide to its end, removal included.
"""

import re
import sys
from pathlib import Path

GUIDE = Path(__file__).parents[2] / "deploy" / "INSTALL.md"
_BLOCK = re.compile(r"^```sh\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_SECTION = re.compile(r"^## ", re.MULTILINE)


def read_sections() -> dict[str, str]:
    """Commands of each section that has any, by its heading."""
    _, *sections = _SECTION.split(GUIDE.read_text(encoding="utf-8"))
    found = {one.partition("\n")[0]: "\n".join(_BLOCK.findall(one)) for one in sections}
    return {heading: commands for heading, commands in found.items() if commands}


def script_of(url: str) -> str:
    """All of them as one script for ``sh -eu``."""
    parts = [f'echo "== {heading}"\n{text}' for heading, text in read_sections().items()]
    return "\n".join(parts).replace("<URL>", url)


if __name__ == "__main__":
    sys.stdout.write(script_of(sys.argv[1] if len(sys.argv) > 1 else "<URL>"))
