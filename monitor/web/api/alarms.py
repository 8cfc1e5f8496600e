"""Alarms as JSON: a list page by page, one with all that became of it, and as a CAP alert."""

from collections.abc import Sequence
from enum import StrEnum
from typing import Annotated

from fastapi import APIRouter, HTTPException, Path, Query, Request, Response
from pydantic import AwareDatetime, BaseModel, Field

from monitor.alarms.letters.cap import cap_of, cap_sender
from monitor.clock import to_ms
from monitor.phrases.alarm_lines import headline_text, reason_text
from monitor.phrases.complaints import ID
from monitor.phrases.names import Names
from monitor.web.api.desk import ApiDesk, Since, link_next_page
from monitor.wording import Wording
from monitor.yard.alarm import Alarm, AlarmEvent, AlarmState, Priority
from monitor.yard.standing import Certainty, Severity, Urgency

NO_SUCH_ALARM = "there is no such alarm"
AlarmId = Annotated[str, Path(pattern=r"^[A-Za-z0-9-]{1,64}$")]
Cursor = Annotated[
    str | None,
    Query(
        pattern=r"^[0-9]{1,13}\.[A-Za-z0-9-]{1,64}$", description="from the Link to the next page"
    ),
]


class AlarmChoice(StrEnum):
    """Which alarms are asked for."""

    OPEN = "open"  # not back to normal
    ALL = "all"


class AlarmOut(BaseModel):
    """One alarm: a life by ISA-18.2 / IEC 62682, its urgency in the words of CAP 1.2."""

    id: str
    cause: str
    space: str
    craft: str | None = Field(description="null: of the space itself, or of laidup's own paths")
    part: str
    state: AlarmState
    priority: Priority
    urgency: Urgency
    severity: Severity
    certainty: Certainty
    headline: str
    raised_at: AwareDatetime
    changed_at: AwareDatetime
    deadline: AwareDatetime | None
    cleared_at: AwareDatetime | None


class AlarmChangeOut(BaseModel):
    """One change of an alarm."""

    at: AwareDatetime
    before: AlarmState
    after: AlarmState
    by: str = Field(description='a person\'s id, or "laidup"')
    why: str


class AlarmInFull(AlarmOut):
    """One alarm with every change of it, in order."""

    changes: list[AlarmChangeOut]


class AlarmsPage(BaseModel):
    """Alarms in the order in which they were raised."""

    alarms: list[AlarmOut]


def alarm_routes(desk: ApiDesk) -> APIRouter:
    """Make the routes that tell of alarms."""
    routes = APIRouter(prefix="/api", tags=["alarms"])

    def page_of(
        request: Request, response: Response, found: Sequence[Alarm], limit: int
    ) -> AlarmsPage:
        """The first of what was found, and where it goes on."""
        told = found[:limit]
        if len(found) > limit:
            raised_ms, last_id = _place_of(told[-1])
            link_next_page(response, request, cursor=f"{raised_ms}.{last_id}")
        words = desk.si_words()
        return AlarmsPage(alarms=[alarm_out(one, words) for one in told])

    @routes.get("/alarms", response_model=AlarmsPage)
    def list_alarms(
        request: Request,
        response: Response,
        state: AlarmChoice = AlarmChoice.OPEN,
        since: Since = None,
        limit: Annotated[int, Query(ge=1, le=500)] = 100,
        cursor: Cursor = None,
    ) -> AlarmsPage:
        """Tell alarms, the oldest first; with `since`, those raised from then on."""
        behind_ms, behind_id = _place_behind(cursor)
        with desk.store.snapshot() as tx:
            found = tx.alarms.page_behind(
                behind_ms,
                behind_id,
                limit + 1,
                only_open=state is AlarmChoice.OPEN,
                since_ms=0 if since is None else to_ms(since),
            )
        return page_of(request, response, found, limit)

    @routes.get("/alarms/{alarm}", response_model=AlarmInFull)
    def read_alarm(alarm: AlarmId) -> AlarmInFull:
        """Tell one alarm with every change of it."""
        with desk.store.snapshot() as tx:
            found = tx.alarms.get(alarm)
            changes = tx.alarms.history_of(alarm)
        if found is None:
            raise HTTPException(404, NO_SUCH_ALARM)
        return alarm_in_full(found, changes, desk.si_words())

    @routes.get(
        "/alarms/{alarm}/cap",
        response_class=Response,
        responses={200: {"content": {"application/cap+xml": {"schema": {"type": "string"}}}}},
    )
    def read_alert(alarm: AlarmId) -> Response:
        """Tell one alarm as a CAP 1.2 alert (OASIS), as it stands after its last change."""
        names = Names.of(desk.yard, desk.craft_now())
        with desk.store.snapshot() as tx:
            document = cap_of(tx, names, alarm, cap_sender(desk.yard))
        if document is None:
            raise HTTPException(404, NO_SUCH_ALARM)
        return Response(document, media_type="application/cap+xml")

    @routes.get("/craft/{craft}/alarms", response_model=AlarmsPage)
    def list_alarms_of_craft(
        craft: Annotated[str, Path(pattern=ID)],
        request: Request,
        response: Response,
        limit: Annotated[int, Query(ge=1, le=500)] = 500,
        cursor: Cursor = None,
    ) -> AlarmsPage:
        """Tell every alarm that one craft ever had, the oldest first."""
        behind = _place_behind(cursor)
        with desk.store.snapshot() as tx:
            if tx.layup.record_of(craft, desk.profiles) is None:
                raise HTTPException(404, f"no craft {craft!r} is on record")
            all_of_it = sorted(tx.alarms.of_craft(craft), key=_place_of)
        found = [one for one in all_of_it if _place_of(one) > behind]
        return page_of(request, response, found, limit)

    return routes


def _place_of(alarm: Alarm) -> tuple[int, str]:
    """Where an alarm stands in the order in which they were raised."""
    return to_ms(alarm.raised_at), alarm.id


def _place_behind(cursor: str | None) -> tuple[int, str]:
    """Place of the last alarm of a page that was told; before all where there was none."""
    raised_ms, _, last_id = (cursor or "0.").partition(".")
    return int(raised_ms), last_id


def alarm_out(alarm: Alarm, words: Wording) -> AlarmOut:
    """One alarm as it leaves the house."""
    return AlarmOut(
        id=alarm.id,
        cause=alarm.cause,
        space=alarm.space,
        craft=alarm.craft or None,
        part=alarm.part,
        state=alarm.state,
        priority=alarm.priority,
        urgency=alarm.urgency,
        severity=alarm.severity,
        certainty=alarm.certainty,
        headline=headline_text(alarm, words),
        raised_at=alarm.raised_at,
        changed_at=alarm.changed_at,
        deadline=alarm.deadline,
        cleared_at=alarm.cleared_at,
    )


def alarm_in_full(alarm: Alarm, changes: list[AlarmEvent], words: Wording) -> AlarmInFull:
    """One alarm with its changes as they leave the house."""
    return AlarmInFull(
        **alarm_out(alarm, words).model_dump(),
        changes=[
            AlarmChangeOut(
                at=one.at,
                before=one.before,
                after=one.after,
                by=one.by,
                why=reason_text(one, alarm, words),
            )
            for one in changes
        ],
    )
