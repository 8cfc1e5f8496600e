"""Parts of the daemon that are made of the settings alone: post, round, alarm round, page."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta

from fastapi import FastAPI

from monitor.alarms.acts.answers import Answers
from monitor.alarms.round import AlarmRound
from monitor.clock import Clock
from monitor.craft.canonical import canonical_bytes
from monitor.craft.merkle import RecordHead
from monitor.craft.pdf_identity import PdfIdentity
from monitor.craft.signed_statements import sign_head
from monitor.daemon.opening import access_of, layup_api, metrics_api
from monitor.daemon.pace import Schedule
from monitor.daemon.yard_keeper import YardKeeper, of_yard
from monitor.delivery.channels import channels
from monitor.delivery.couriers import courier_name
from monitor.delivery.part_turns import PartTurns
from monitor.delivery.post import Post
from monitor.errors import QuantityError
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.reports.season.pdf_signature import can_sign
from monitor.settings.load import Settings, origin_of
from monitor.settings.pdf_key import PdfIdentityInUse, load_pdf_identity
from monitor.settings.record_key import KeyInUse
from monitor.settings.yard_acts import YardBook, in_use
from monitor.store.store import Store
from monitor.web.app import create_app
from monitor.web.server import PageServer
from monitor.yard.health import HealthAccount, StoreCondition
from monitor.yard.message import Message
from monitor.yard.space import STAFF


def agency_of(settings: Settings) -> str | None:
    """Whose public forecast the yard asks for; None where it asks for none."""
    return None if settings.forecast is None else str(settings.forecast.agency)


def head_signer(settings: Settings) -> Callable[[Message], Message]:
    """Signs the head that a message carries; does nothing where the yard's key cannot be used.

    The signature is dated by the message, so one that is sent twice is the same.
    """
    yard = settings.yard.id
    key = KeyInUse(settings.file.parent, yard)

    def sign(message: Message) -> Message:
        try:
            head = RecordHead.parse(message.record_head)
        except QuantityError:  # none, or another hand wrote over it
            return message
        found = key.read_now()
        if found is None:
            return message
        said = sign_head(head, yard, message.created_at, found.key)
        return replace(message, signed_head=canonical_bytes(said).decode())

    return sign


def pdf_identity_in_use(settings: Settings, clock: Clock) -> Callable[[], PdfIdentity | None]:
    """Tells what PDFs of season records are signed with, as its file stands when it is asked."""
    if not can_sign():
        return lambda: None
    folder, yard = settings.file.parent, settings.yard.name

    def load() -> PdfIdentity:
        return load_pdf_identity(folder, yard, settings.bought_certificate, clock.now())

    return PdfIdentityInUse(load).read_now


def staff_ids(settings: Settings) -> list[str]:
    """Ids of the yard's own people, whose messages go before those of owners."""
    return [one.id for one in settings.yard.people if one.roles & STAFF]


def make_post(
    settings: Settings, store: Store, clock: Clock, pace: Schedule, turning: PartTurns
) -> Post:
    """The post, with every channel that the yard's file names."""
    return Post(
        store,
        channels(settings.mail, settings.folder, settings.channels),
        clock,
        first_wait=timedelta(seconds=pace.first_retry_s),
        staff=staff_ids(settings),
        on_try=lambda channel: turning.going_on(courier_name(channel)),
        sign=head_signer(settings),
    )


def make_round(settings: Settings, store: Store, clock: Clock) -> Round:
    """The round of judgement."""
    return Round(
        store,
        settings.yard,
        clock,
        forecast=agency_of(settings),
        origin=origin_of(settings),
    )


def make_alarm_round(
    settings: Settings,
    store: Store,
    clock: Clock,
    answers: Answers | None,
    condition: Callable[[], StoreCondition],
    refused: Mapping[str, str],
    care: CraftInCare,
) -> AlarmRound:
    """The round of alarms; ``refused`` says of craft why their file was not taken in."""
    return AlarmRound(
        store,
        settings.yard,
        clock,
        definitions=settings.definitions,
        answers=answers,
        condition=condition,
        refused=refused,
        read_departed=care.read_departed,
    )


def make_page(
    keeper: YardKeeper,
    store: Store,
    clock: Clock,
    pace: Schedule,
    answers: Answers | None,
    health: Callable[[], HealthAccount],
    hasten_round: Callable[[], None],
) -> PageServer:
    """The page, not served yet, and made anew as the yard changes.

    ``store`` has connections for its readers alone.
    """

    def tell_changed() -> None:
        keeper.look_for_changes()
        hasten_round()

    first = keeper.settings
    in_care = CraftInCare(store, first.profiles, first.yard, clock)
    craft = in_care.read_now
    # Once for all: a form that is open now is sent to the page as it is then.
    access = access_of(first, store, clock, craft)
    yard_key = KeyInUse(first.file.parent, first.yard.id)
    pdf_identity = pdf_identity_in_use(first, clock)
    book = YardBook(
        lambda: keeper.settings, store, clock, lambda: in_use(craft()), tell_changed
    )  # fmt: skip

    def app_of(settings: Settings) -> FastAPI:
        return create_app(
            store,
            settings.yard,
            clock,
            craft,
            pace.page_renew_s,
            pace.page_old_after,
            answers=answers,
            health=health,
            layup=layup_api(settings, store, clock),
            metrics=metrics_api(settings, store, clock, craft, health),
            profiles=settings.profiles,
            access=access,
            address=settings.web.address,
            book=book,
            yard_key=yard_key.read_now,
            pdf_identity=pdf_identity,
        )

    page = PageServer(
        app_of(first),
        first.web.host,
        first.web.port,
        asks_who=first.web.access == "people",
        proxies=first.web.proxies,
    )
    keeper.tell_at_once(of_yard(in_care, access), lambda settings: page.serve_app(app_of(settings)))
    return page
