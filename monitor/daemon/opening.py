"""What has to stand before the parts are wired: store, craft, session, and who may enter work."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlsplit

from fastapi import APIRouter

from monitor.alarms.acts.answers import Answers
from monitor.clock import Clock
from monitor.craft.revising import CRAFT_FILES
from monitor.craft.stored import StoredCraft
from monitor.errors import StoreError
from monitor.intake.broker import BrokerSettings
from monitor.settings.load import Settings
from monitor.settings.yard_file import OLD_WAY_IN
from monitor.store.store import Store
from monitor.store.store_file import REVISION, has_current_tables
from monitor.store.taking_in_each import keep_files_taken_in, take_in_each
from monitor.web.access.end_access import end_access_of_leavers
from monitor.web.access.guard import Access, OpenAccess
from monitor.web.access.people_access import PeopleAccess
from monitor.web.answer import PATH as ANSWER_PATH
from monitor.web.api.layup import layup_router
from monitor.web.metrics import metrics_router
from monitor.wording import SI, Wording
from monitor.yard.health import HealthAccount
from monitor.yard.people import names_by_id
from monitor.yard.space import shelters

log = logging.getLogger("laidup")


def open_store(url: str, yard: str) -> Store:
    """Open the yard's store, bringing its tables up to date first where they are not."""
    if not has_current_tables(url):
        # Imported here: alembic is needed at the first start and after an update, never else.
        from monitor.store.migrate import migrate

        log.info("Bringing the tables of the store up to date (revision %s).", REVISION)
        migrate(url)
    return Store(url, yard)


def take_in_craft(settings: Settings, store: Store, clock: Clock) -> dict[str, str]:
    """Enter what the craft files say, and give why a craft was refused, by its id.

    What is on record already adds nothing. A craft of which the file cannot be used stays as the
    store has it, and the others are taken in; what is wrong with a whole file stands under its
    name.
    """
    taken = take_in_each(
        store,
        settings.craft,
        settings.profiles,
        clock.now(),
        CRAFT_FILES,
        names_by_id(settings.yard),
    )
    keep_files_taken_in(store, settings.files_digest, taken)
    unread: dict[str, list[str]] = {}
    for fault in settings.craft_faults:
        log.error("Not taken in, and as it was before: %s", fault)
        unread.setdefault(fault.craft or Path(fault.file).name, []).append(str(fault))
    for error in taken.refused:
        log.error("Not taken in, and as it was before: %s", error)
    for change in taken.changes:
        log.info("By the craft files: %s.", change)
    for one in taken.marked:
        log.error("The record of craft %s does not hold: %s", one.craft, one)
    log.info(
        "%d craft are in the craft files, %d of them new; new lay-up entries: %d.",
        taken.craft,
        taken.new_craft,
        taken.new_entries,
    )
    return taken.refused_craft | {key: " ".join(told) for key, told in unread.items()}


def with_earlier_session(broker: BrokerSettings, store: Store) -> BrokerSettings:
    """The broker's settings, with the session that a yard had before the default had its id."""
    if broker.is_client_id_given:
        return broker
    with store.snapshot() as tx:
        earlier = tx.session_names.earlier_client_id()
    return broker if earlier is None else replace(broker, client_id=earlier)


def answers_of(settings: Settings, store: Store, clock: Clock) -> Answers | None:
    """Links in messages need a page that answers them, and its address as the readers know it."""
    if not settings.web.enabled or settings.web.address is None:
        return None
    return Answers(store, clock, f"{settings.web.address.rstrip('/')}{ANSWER_PATH}/")


def access_of(
    settings: Settings, store: Store, clock: Clock, craft: Callable[[], Sequence[StoredCraft]]
) -> Access:
    """Who is asked at the page who they are: the yard's people, or nobody on this machine alone."""
    web = settings.web
    if web.names_token:
        log.warning("%s", OLD_WAY_IN)
    if web.access == "open":
        name = urlsplit(web.address or "").hostname
        hosts = {name} if name else set()
        return OpenAccess(settings.yard, may_act=settings.open_page_acts, hosts=hosts)
    https = (web.address or "").startswith("https://")
    return PeopleAccess(store, settings.yard, clock, craft, https_outside=https)


def end_old_access(settings: Settings, store: Store, clock: Clock) -> None:
    """End the access of whoever has left the yard's file, and tell the log who can sign in.

    A store that takes nothing now holds up no start; they are strangers all the same.
    """
    try:
        with store.transaction(can_wait=True) as tx:
            ended = end_access_of_leavers(tx, settings.yard, clock.now())
            people = tx.sign_ins.people_with_password()
    except StoreError as error:
        log.warning("What ended for people who left the yard's file is not kept yet: %s", error)
        return
    if ended:
        log.warning(
            "People who left the yard's file: %d. Their passwords, sessions, links and keys have"
            " ended; `laidup access log` names them. Invite again whoever comes back.",
            ended,
        )
    if not people and settings.web.enabled and settings.web.access == "people":
        log.warning(
            "Nobody has a password for the page yet: `laidup access invite --config %s NAME` sends"
            " or shows a link to set one.",
            settings.file.parent,
        )


def layup_api(settings: Settings, store: Store, clock: Clock) -> APIRouter:
    """The lay-up record as JSON."""
    yard = settings.yard
    return layup_router(
        store,
        settings.profiles,
        shelters(yard),
        clock,
        Wording(zone=yard.zone, units=SI, people=names_by_id(yard)),
        yard,
    )


def metrics_api(
    settings: Settings,
    store: Store,
    clock: Clock,
    craft: Callable[[], Sequence[StoredCraft]],
    health: Callable[[], HealthAccount],
) -> APIRouter | None:
    """The yard's figures for a collector; None where the library for them is not installed."""
    return metrics_router(store, settings.yard, clock, craft, health)
