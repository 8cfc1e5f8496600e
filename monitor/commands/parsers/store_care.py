"""Flags of what cares for the store: backup, restore, archive, migrate, rollups and forget."""

from pathlib import Path

from monitor.commands.parsers.flags import Children, DeferredFunction, add_config, add_json


def add_backup(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "backup",
        help=about,
        description=(
            "Copies the whole store into one file, as it stands at one moment, while laidup runs or"
            " not; then reads the copy back: the database's own check, the rows of every table, the"
            " chains of the lay-up record. Exit status 0: it is sound; 1: it is not, or the record"
            " in the store is broken."
        ),
    )
    parser.add_argument(
        "place",
        type=Path,
        nargs="?",
        metavar="FILE|FOLDER",
        help="a new file; or a folder, where it is named by the time and older ones are thinned"
        " (the folder of [backup] in the yard's file)",
    )
    parser.add_argument(
        "--days", type=int, help="in a folder: of how many days ([backup] days, or 7)"
    )
    parser.add_argument(
        "--weeks", type=int, help="and of how many weeks to keep one ([backup] weeks, or 8)"
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.backup", "run"))


def add_restore(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "restore",
        help=about,
        description=(
            "Reads a copy that `laidup backup` took, and puts it where [store] url says. laidup"
            " must not run. What is entered or measured since the copy was taken is not in it."
        ),
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the copy; it is left as it is")
    parser.add_argument(
        "--over",
        action="store_true",
        help="set the store that is there aside, beside it under another name",
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.restore", "run"))


def add_archive(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "archive",
        help=about,
        description=(
            "Writes the raw readings of each month whose days are all closed as one Parquet file"
            " (extra: data), YARD-2026-11.parquet, once each of its hours was compared with the"
            " trees of the closed days; a month that is there already is left. laidup may run."
            " --drop removes from the store what such files hold, of months that ended 13 months"
            " ago or earlier, after it held file, trees, store and hourly rollups against each"
            " other; it asks first. From then on the files are part of the yard's record: have"
            " their folder in the backup. Exit status 0: done, or it fits; 1: something does not"
            " fit, or could not be written or removed."
        ),
    )
    what = parser.add_mutually_exclusive_group(required=True)
    for name, told in (
        ("--to", "write the files there ([archive] folder in the yard's file)"),
        ("--check", "read the files there back, and name the first hour that no closed day has so"),
    ):
        what.add_argument(name, nargs="?", const="", metavar="FOLDER", help=told)
    what.add_argument(
        "--drop",
        action="store_true",
        help="remove from the store raw readings of old months that [archive] folder holds",
    )
    what.add_argument(
        "--put-back",
        metavar="MONTH",
        help="put raw readings of that month and all later dropped ones back into the store",
    )
    parser.add_argument(
        "--before",
        metavar="MONTH",
        help="with --to or --drop: only months before this one, as 2026-11",
    )
    parser.add_argument("--yes", action="store_true", help="with --drop: remove without asking")
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.archive", "run"))


def add_migrate(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "migrate", help=about, description=f"{about[:1].upper()}{about[1:]}."
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.store_care", "run_migrate"))


def add_rollups(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "rollups",
        help=about,
        description=(
            "Makes the hours that are missing. The daemon does so by itself, a few at a time; this"
            " is for whoever does not want to wait, or doubts the hours that are there."
        ),
    )
    add_json(parser)
    add_config(parser)
    parser.add_argument(
        "--anew", action="store_true", help="throw all hours away and make them of the readings"
    )
    parser.set_defaults(run=DeferredFunction("monitor.commands.store_care", "run_rollups"))


def add_forget(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "forget",
        help=about,
        description=(
            "Empties the letters to one person that are done with (words, address, attachments;"
            " that they were sent stays) and removes the person's answer links. With the name,"
            " letters to others that name the person are emptied too. The lay-up record keeps the"
            " id, for its hashes hold only while nothing in it changes. Take the person out of"
            " yard.toml first, and start laidup again."
        ),
    )
    parser.add_argument("person", metavar="ID", help="as yard.toml called the person")
    parser.add_argument(
        "--name", default="", help="as letters to others named the person: these are emptied too"
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.store_care", "run_forget"))
