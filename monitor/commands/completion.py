"""``laidup completion``: what makes bash, zsh or fish complete commands and flags."""

import argparse

from monitor.errors import LaidupError


def run(arguments: argparse.Namespace) -> int:
    """Print the lines."""
    try:
        from argcomplete.shell_integration import shellcode
    except ModuleNotFoundError as error:
        raise LaidupError(
            "completion needs argcomplete; install laidup with its extra: laidup[shell]"
        ) from error
    print(shellcode(["laidup"], shell=arguments.shell))
    return 0
