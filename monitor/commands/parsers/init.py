"""Flags of what sets laidup up: ``laidup init``, which asks for what none says, and completion."""

from dataclasses import dataclass
from pathlib import Path

from monitor.commands.parsers.flags import Children, DeferredFunction


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing to know of a new yard: its key, its flag, and how a person is asked for it."""

    key: str
    flag: str
    ask: str
    example: str


QUESTIONS = (
    Question(key="name", flag="--name", ask="Name of the yard", example="Mill Lane Storage"),
    Question(key="timezone", flag="--zone", ask="Its time zone", example="America/Chicago"),
    Question(key="latitude", flag="--latitude", ask="Its latitude, north above 0", example="44.9"),
    Question(
        key="longitude", flag="--longitude", ask="Its longitude, east above 0", example="-93.1"
    ),
    Question(key="units", flag="--units", ask="Units that people read, C or F", example="F"),
    Question(
        key="person",
        flag="--person",
        ask="Name of the first person, who is told and signs in",
        example="Sam Ostrander",
    ),
    Question(
        key="mail", flag="--mail", ask="Mail address of that person", example="sam@yard.example"
    ),
)


def add_init(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "init",
        help=about,
        description=(
            "Makes a folder for one yard: yard.toml and craft.toml with examples behind #,"
            " profiles/ and payloads/ for what this yard has of its own, data/ for the store,"
            " secrets/ for passwords, broker/ for the broker's certificate and users. Only its user"
            " may read it. What no flag says is asked for; off a terminal it must be said. Nothing"
            " that is there is overwritten."
        ),
    )
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="new, or empty")
    for one in QUESTIONS:
        parser.add_argument(
            one.flag, dest=one.key, metavar="VALUE", help=f"{one.ask.lower()}, like {one.example}"
        )
    parser.add_argument(
        "--broker",
        metavar="HOST[:PORT]",
        help="a broker that is there already (none: one on this machine is made ready)",
    )
    parser.add_argument("--broker-user", metavar="NAME", help="laidup's user at that broker")
    parser.add_argument(
        "--broker-host",
        metavar="HOST",
        action="append",
        help="name or address by which sensors reach this machine's broker, like 192.0.2.10; may be"
        " given again",
    )
    parser.add_argument("--id", help="short name in topics and files (made of the name)")
    parser.add_argument(
        "--space",
        dest="spaces",
        action="append",
        metavar="NAME=KIND",
        help='a part of the yard with its own air, like "Cold shed=cold"; may be given again.'
        " KIND: heated, cold, wrapped, open or bench (none: put them in at the page)",
    )
    parser.add_argument(
        "--mail-server",
        metavar="HOST[:PORT]",
        help="the server that mails leave through (none: add [mail] later)",
    )
    parser.add_argument("--mail-user", metavar="NAME", help="laidup's user at that server")
    parser.set_defaults(run=DeferredFunction("monitor.commands.init", "run"))


def add_completion(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "completion",
        help=about,
        description=(
            "Prints a few lines for the shell; once for each user: bash, `laidup completion bash >"
            " ~/.local/share/bash-completion/completions/laidup`; zsh, into a file _laidup of its"
            " fpath; fish, `laidup completion fish > ~/.config/fish/completions/laidup.fish`."
            " Needs the extra shell."
        ),
    )
    parser.add_argument("shell", choices=("bash", "zsh", "fish"))
    parser.set_defaults(run=DeferredFunction("monitor.commands.completion", "run"))
