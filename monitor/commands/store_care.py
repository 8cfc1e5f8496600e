"""``laidup migrate``, ``rollups`` and ``forget``: what a person does to the store as a whole."""

import argparse
from datetime import UTC, datetime

from monitor.commands.opening import daemon_clock, open_to_act
from monitor.commands.printing import print_json
from monitor.errors import QuantityError
from monitor.phrases.names import plain
from monitor.settings.load import load_settings
from monitor.web.access.end_access import end_access_of_leavers
from monitor.yard.people import names_by_id


def run_migrate(arguments: argparse.Namespace) -> int:
    """Bring the tables up to date and say so."""
    from monitor.store.engine import shown
    from monitor.store.mark import StoreMark
    from monitor.store.migrate import migrate

    settings = load_settings(arguments.config)
    StoreMark(settings.file).refuse_another(settings.store_url, settings.yard.id)
    migrate(settings.store_url)
    if arguments.json:
        print_json({"store": shown(settings.store_url), "up_to_date": True})
        return 0
    print(f"The tables of {shown(settings.store_url)} are up to date.")
    return 0


def run_rollups(arguments: argparse.Namespace) -> int:
    """Make the hours and tell how many there are."""
    from monitor.store.rolling_up import make_all_anew, make_due_hours

    with open_to_act(arguments) as here:
        now = datetime.now(UTC)
        if arguments.anew:
            make_all_anew(here.store, now)
        else:
            make_due_hours(here.store, now)
        with here.store.snapshot() as tx:
            count = tx.rollups.count_hours()
    if arguments.json:
        print_json({"yard": here.yard.id, "hours": count})
        return 0
    print(f"{count} hours of {here.yard.name} are made.")
    return 0


def run_forget(arguments: argparse.Namespace) -> int:
    """Forget, and tell what went."""
    with open_to_act(arguments) as here:
        if arguments.person in names_by_id(here.yard):
            raise QuantityError(
                f"{arguments.person} is in {here.settings.file} still",
                "take the person out of it and start laidup again, then forget",
            )
        with here.store.transaction() as tx:
            letters = tx.outbox.forget_content_of(arguments.person)
            naming = tx.outbox.forget_content_naming(arguments.name)
            links = tx.answer_links.forget_person(arguments.person)
            end_access_of_leavers(tx, here.yard, daemon_clock(here.store).now())
            tx.sign_ins.forget_person(arguments.person)
            tx.page_grants.forget_person(arguments.person)
    if arguments.json:
        print_json(
            {
                "person": arguments.person,
                "letters": letters,
                "letters_to_others": naming,
                "answer_links": links,
            }
        )
        return 0
    others = (
        f", {naming} letters to others that name {plain(arguments.name)}"
        if arguments.name.strip()
        else ""
    )
    print(
        f"Emptied {letters} letters to {arguments.person}{others} and removed {links} answer links."
        " Copies of the store still hold them until they are thinned out; the lay-up record keeps"
        " the id."
    )
    if not others:
        print("Letters to others keep the name for two years; `--name` empties these too.")
    return 0
