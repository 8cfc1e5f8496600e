"""Flags of the commands that only look: assess, report, replay, prove, skill and verify."""

from pathlib import Path

from monitor.commands.parsers.flags import (
    Children,
    DeferredFunction,
    add_at,
    add_config,
    add_json,
    add_pdf_paper,
)


def add_assess(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "assess",
        help=about,
        description="Shows the latest judgement; with --at, judges that moment anew from the"
        " readings in the store. An aid to judgement, not a life-safety device.",
    )
    add_config(parser)
    parser.add_argument(
        "--at",
        metavar="TIME",
        help="judge this moment: 'now', or like 2026-11-14T16:00 by the yard's clock",
    )
    add_json(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.assess", "run"))


def add_report(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "report",
        help=about,
        description="Without --out and --send, prints the first reader's letter as plain text.",
    )
    add_json(parser)
    add_config(parser)
    parser.add_argument(
        "--week",
        metavar="WEEK",
        help="ISO 8601 week like 2026-W46, or 'this' (default: the last whole week)",
    )
    parser.add_argument("--person", metavar="ID", help="only this reader's letter")
    parser.add_argument(
        "--out", type=Path, metavar="FOLDER", help="write each letter as .html, .txt and .png"
    )
    parser.add_argument(
        "--send",
        action="store_true",
        help="put the letters into the outbox; one that went out already is not sent again",
    )
    parser.set_defaults(run=DeferredFunction("monitor.commands.report", "run"))


def add_replay(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "replay",
        help=about,
        description="Judges a past stretch again, by the same rules as the daemon and by the"
        " lay-up record as it is now, and tells every change of standing. Neither judgements,"
        " alarms nor messages in the store are touched.",
    )
    add_config(parser)
    parser.add_argument(
        "--from", dest="since", metavar="TIME", required=True, help="like 2026-11-14T16:00"
    )
    parser.add_argument("--to", dest="until", metavar="TIME", help="where it ends (now)")
    parser.add_argument(
        "--every",
        metavar="STEP",
        default="10min",
        help="tell the time of a change to this step, like 10min or 1h (10min); what comes and"
        " goes within an hour may be missed",
    )
    add_json(parser)
    parser.add_argument("--out", type=Path, metavar="FILE", help="write there and not here")
    parser.set_defaults(run=DeferredFunction("monitor.commands.replay", "run"))


def add_skill(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "skill",
        help=about,
        description="Said against happened by tenths, and how much better than this yard's own"
        " climate and than last night again. Of each night counts what was said from 17:00 on.",
    )
    add_config(parser)
    parser.add_argument("--days", type=int, default=180, help="how far back (%(default)s)")
    add_json(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.skill", "run"))


def add_backlog(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "backlog",
        help=about,
        description="Tells how many craft are not laid up, by when they are at the pace of the last"
        " weeks, the chance of a hard night before then, and what it takes to be through in time.",
    )
    add_config(parser)
    parser.add_argument("--hands", type=int, help="if so many people lay up (`hands` of [duty])")
    add_json(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.layup.plan", "run_backlog"))


def add_prove(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "prove",
        help=about,
        description="Runs the yard's record as it is now through a whole winter of hourly weather"
        " and tells which craft it would damage, from which night on, what saves them, and what"
        " that takes in product and hours. It is a test and no forecast. Nothing is written to the"
        " store and nobody is told. An aid to judgement, not a life-safety device.",
    )
    add_config(parser)
    parser.add_argument(
        "--weather",
        type=Path,
        metavar="FILE",
        help="an EPW, or a CSV with the columns time, temperature_c (or _f) and, where there is"
        " one, dew_point_c or humidity_pct; may be packed (.gz)",
    )
    parser.add_argument(
        "--own-winter",
        action="store_true",
        help="in its place: the worst winter that the yard's own sensors outdoors have on record",
    )
    parser.add_argument(
        "--colder-by", metavar="DEGREES", help="take all of it so much colder, like 3C or 5F"
    )
    parser.add_argument(
        "--heater-off",
        metavar="SPACE[=DAY]",
        action="append",
        help="a heated space whose heat fails: on a day like 2027-01-10, or from the beginning;"
        " once for each",
    )
    parser.add_argument(
        "--from", dest="since", metavar="DAY", help="the winter's first day, like 2026-12-01 (now)"
    )
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="write the report there too (.pdf or .json)"
    )
    add_pdf_paper(parser)
    add_json(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.prove", "run"))


def add_claim(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "claim",
        help=about,
        description="Tells of one circuit which nights came near or past what it held, what was"
        " expected and what came, who was told and answered, what was done with every correction,"
        " what was left undone on purpose, and when nobody watched. It blames nobody.",
    )
    add_config(parser)
    parser.add_argument("craft", metavar="CRAFT", help="id or name of the craft")
    parser.add_argument("--finding", metavar="ID", help="what was found (the newest on a circuit)")
    parser.add_argument("--circuit", metavar="ID", help="this circuit, whatever was found")
    add_at(parser, "as the record stood then")
    add_json(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.claim", "run"))


def add_verify(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "verify",
        help=about,
        description=(
            "Checks that every entry, move and version of a craft's row is what was written: none"
            " changed, deleted, added or reordered; and that the record still holds all that it"
            " held when a mail left; and that readings are what they were when their day was"
            " closed, which reads all of them. With FILE it checks a season record instead, with"
            " nothing but that file and a key or a head. Nothing is written. Exit status 0: whole;"
            " 1: broken."
        ),
    )
    parser.add_argument(
        "file",
        nargs="?",
        type=Path,
        metavar="FILE",
        help="a season record; no yard and no store is needed",
    )
    parser.add_argument(
        "--key",
        action="append",
        default=[],
        metavar="KEY",
        help="with FILE: the yard's public key or its fingerprint, or a file with it; repeat it",
    )
    parser.add_argument(
        "--head",
        action="append",
        default=[],
        metavar="HEAD",
        help="a head out of a mail's last line, like 214-9f86d081884c7d65; repeat it",
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.verify", "run"))


def add_key(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "key",
        help=about,
        description=(
            "Shows the public key and its fingerprint. The secret half stands in record-key.pem"
            " beside the yard's file, and is made with `laidup init` or at first need."
        ),
    )
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--rotate",
        action="store_true",
        help="put a new key in its place, which the old one vouches for",
    )
    which.add_argument(
        "--make",
        action="store_true",
        help="make one where it was lost for good: nothing then leads from the old to the new",
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.key", "run"))
