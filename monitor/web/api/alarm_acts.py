"""Acts on alarms as JSON: acknowledge, give back, shelve, take out of service, and back."""

from collections.abc import Callable
from enum import StrEnum
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Response
from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.craft.fields import in_our_time
from monitor.craft.layup import ONE_LINE
from monitor.errors import ActError
from monitor.phrases.complaints import ID
from monitor.web.access.visitor import Visitor, visitor_of
from monitor.web.api.alarms import NO_SUCH_ALARM, AlarmId, AlarmInFull, alarm_in_full
from monitor.web.api.desk import ApiDesk, person_acting
from monitor.web.api.repeats import IdempotencyKey, do_once
from monitor.web.problems import unusable_parameter


class AlarmAct(StrEnum):
    """What may be done about an alarm."""

    ACKNOWLEDGE = "acknowledge"
    GIVE_BACK = "give-back"  # what was taken on a moment ago
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    TAKE_OUT = "take-out-of-service"
    RETURN = "return-to-service"


_NEEDS_REASON = frozenset({AlarmAct.SHELVE, AlarmAct.TAKE_OUT})


class AlarmActBody(BaseModel):
    """One act of one person."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    act: AlarmAct
    by: Annotated[str, Field(pattern=ID)] | None = Field(
        default=None,
        description="id of the person of the yard who does it; a program with a key must say it",
    )
    why: Annotated[str, Field(max_length=500, pattern=ONE_LINE)] = Field(
        default="", description="shelving and taking out of service need a reason"
    )
    until: Annotated[AwareDatetime, AfterValidator(in_our_time)] | None = Field(
        default=None, description="end of the shelf: 7 days ahead at most, for some alarms 24 hours"
    )


def alarm_act_routes(desk: ApiDesk) -> APIRouter:
    """Make the route by which alarms are acted on."""
    routes = APIRouter(prefix="/api", tags=["alarms"])

    @routes.post(
        "/alarms/{alarm}/acts",
        response_model=AlarmInFull,
        responses={409: {"description": "the alarm is in a state in which this cannot be done"}},
    )
    def act_on_alarm(
        alarm: AlarmId,
        body: AlarmActBody,
        visitor: Annotated[Visitor, Depends(visitor_of)],
        key: IdempotencyKey = None,
    ) -> Response:
        """Do one act to an alarm; the record keeps who, when and why."""
        by = person_acting(desk, body.by, visitor)
        _refuse_what_is_missing(body)
        request = f"POST alarm {alarm} {by} {body.model_dump_json()}"
        with desk.store.transaction() as tx:
            if tx.alarms.get(alarm) is None:
                raise HTTPException(404, NO_SUCH_ALARM)
            acts = AlarmActs(desk.store, desk.clock, within=tx)

            def act() -> Response:
                try:
                    _ACTS[body.act](acts, alarm, by, body)
                except ActError as error:
                    raise HTTPException(409, str(error)) from error
                changed = tx.alarms.get(alarm)
                if changed is None:
                    raise HTTPException(404, NO_SUCH_ALARM)
                told = alarm_in_full(changed, tx.alarms.history_of(alarm), desk.si_words())
                return Response(told.model_dump_json(), media_type="application/json")

            return do_once(tx, visitor, key, request, desk.clock.now(), act)

    return routes


def _shelve(acts: AlarmActs, alarm: str, by: str, body: AlarmActBody) -> object:
    if body.until is None:
        raise ActError("shelving needs an end")
    return acts.shelve(alarm, by, body.why, body.until)


_ACTS: dict[AlarmAct, Callable[[AlarmActs, str, str, AlarmActBody], object]] = {
    AlarmAct.ACKNOWLEDGE: lambda acts, alarm, by, body: acts.acknowledge(alarm, by, body.why),
    AlarmAct.GIVE_BACK: lambda acts, alarm, by, body: acts.give_back([alarm], by, body.why),
    AlarmAct.SHELVE: _shelve,
    AlarmAct.UNSHELVE: lambda acts, alarm, by, body: acts.unshelve(alarm, by, body.why),
    AlarmAct.TAKE_OUT: lambda acts, alarm, by, body: acts.take_out_of_service(alarm, by, body.why),
    AlarmAct.RETURN: lambda acts, alarm, by, body: acts.return_to_service(alarm, by, body.why),
}


def _refuse_what_is_missing(body: AlarmActBody) -> None:
    if body.act in _NEEDS_REASON and not body.why.strip():
        raise unusable_parameter("why", "", "it is missing", "say why, in one line")
    if body.act is AlarmAct.SHELVE and body.until is None:
        raise unusable_parameter("until", "", "it is missing", "say when it comes off the shelf")
