"""A season's work as JSON: autumn's backlog, a craft's spring list, the case of a claim."""

import json
from collections.abc import Sequence
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Path, Query, Request, Response
from pydantic import AwareDatetime, BaseModel, Field

from monitor.craft.canonical import canonical_bytes
from monitor.craft.record import CraftRecord
from monitor.craft.spring_progress import spring_progress
from monitor.phrases.complaints import ID
from monitor.phrases.spring_progress import spring_json
from monitor.reports.backlog import backlog_json, read_backlog
from monitor.reports.case_lines import case_json
from monitor.reports.circuit_case import (
    circuit_of_part,
    finding_asked_for,
    findings_on_circuits,
    read_circuit_case,
)
from monitor.store.store import Transaction
from monitor.web.api.desk import ApiDesk
from monitor.web.entity_tags import digest_of_answer, names_tag
from monitor.web.problems import unusable_parameter
from monitor.yard.space import shelters

_CraftId = Annotated[str, Path(pattern=ID)]
_MOST_HANDS = 100


class SupplyOut(BaseModel):
    """What the work that is left uses up of one product."""

    product: str
    quantity_l: float
    containers: int
    craft: list[str]


class BacklogOut(BaseModel):
    """Craft that are not laid up, when they are at this pace, and the cold before then."""

    undone: int
    in_care: int
    craft: list[str]
    pace_per_week: float | None = Field(description="null: the record shows too few days")
    pace_days: int = Field(description="on which the pace rests")
    done_early: date | None
    done_likely: date | None
    done_late: date | None
    hard_night_c: float
    chance_hard_night: float | None = Field(
        description="of one before `done_likely`; null: no pace is known, or all stand in heat"
    )
    past_winters: int | None
    forecast_nights: int | None
    safe_until: date | None = Field(
        description="the last day before which a hard night is unlikely; null: there is none"
    )
    minutes: float = Field(description="of work that is left")
    hands: int
    day_minutes: float
    plan_done_on: date | None = Field(description="by the plan's own minutes, from tomorrow on")
    hands_needed: int | None = Field(
        description="to be through by `safe_until`; null: no crew is, or no such day is known"
    )
    supplies: list[SupplyOut]


class SpringStepOut(BaseModel):
    """One step of the spring list; ``entry`` is of the lay-up record, null while it is open."""

    title: str
    words: str
    circuits: list[str]
    cautions: list[str]
    minutes: float
    before_start: bool
    done_by: str | None
    done_at: AwareDatetime | None
    entry: str | None


class SpringListOut(BaseModel):
    """Every step before one craft's first start, in working order."""

    craft: str
    begun_at: AwareDatetime | None
    steps_before_start: int
    open_before_start: int
    may_be_started: bool = Field(description="signed off, and nothing open; else DO NOT START")
    steps: list[SpringStepOut]


class CircuitCaseOut(BaseModel):
    """What is on record of one circuit in one winter: facts and no verdict, the newest first."""

    craft: str
    circuit: str
    since: AwareDatetime
    until: AwareDatetime
    finding: dict[str, Any] | None = Field(description="what opened the case")
    nights: list[dict[str, Any]]
    alarms: list[dict[str, Any]]
    messages: list[dict[str, Any]] = Field(description="that told of the craft")
    work: list[list[str]] = Field(description="each by its entries, the one that holds last")
    left_undone: list[str] = Field(description="entries that say so")
    gaps: list[dict[str, Any]] = Field(description="when nothing was read of its air")


def season_work_routes(desk: ApiDesk) -> APIRouter:
    """Make the routes; each tells what `laidup` tells with ``--json``."""
    routes = APIRouter(prefix="/api")

    def record_in(tx: Transaction, craft: str) -> CraftRecord:
        found = tx.layup.record_of(craft, desk.profiles)
        if found is None:
            raise HTTPException(404, f"no craft {craft!r} is on record")
        return found

    @routes.get("/backlog", response_model=BacklogOut, tags=["lay-up"])
    def tell_backlog(
        hands: Annotated[
            int | None,
            Query(ge=1, le=_MOST_HANDS, description="who lay up; left out: the yard's own number"),
        ] = None,
    ) -> Response:
        """Tell which craft are not laid up, when they are at this pace, and what it takes."""
        now, craft = desk.clock.now(), desk.craft_now()
        with desk.store.snapshot() as tx:
            backlog = read_backlog(tx, desk.yard, craft, now, hands)
        return _json_response(backlog_json(backlog))

    @routes.get("/craft/{craft}/spring", response_model=SpringListOut, tags=["lay-up"])
    def tell_spring_list(craft: _CraftId) -> Response:
        """Tell each step before a craft's first start, who did it and when, and what is open."""
        now = desk.clock.now()
        with desk.store.snapshot() as tx:
            record = record_in(tx, craft)
        if not record.in_yard_at(now):
            raise HTTPException(404, f"craft {craft!r} is not in the yard now")
        progress = spring_progress(record, shelters(desk.yard), now)
        return _json_response(spring_json(record, progress, desk.si_words()))

    @routes.get("/craft/{craft}/claim", response_model=CircuitCaseOut, tags=["reports"])
    def tell_case(
        request: Request,
        craft: _CraftId,
        finding: Annotated[
            str, Query(max_length=80, description="its id; left out: the newest on a circuit")
        ] = "",
        circuit: Annotated[str, Query(max_length=80)] = "",
    ) -> Response:
        """Tell what is on record of one circuit's winter, for a claim; it infers nothing.

        Its tag is weak: while no finding ends the case, `until` is the time of asking.
        """
        now = desk.clock.now()
        with desk.store.snapshot() as tx:
            record = record_in(tx, craft)
            found = findings_on_circuits(record, now)
            opened = finding_asked_for(found, finding, circuit)
            if finding and opened is None:
                raise _unknown_of_craft("finding", finding, [one.seen.id for one in found])
            known = record.profile.circuit_ids
            if circuit and circuit not in known:
                raise _unknown_of_craft("circuit", circuit, known)
            which = circuit
            if not which:
                if opened is None:
                    problem = "nothing was found on a circuit of this craft"
                    raise unusable_parameter("query.circuit", "", problem, _name_one_of(known))
                which = circuit_of_part(opened.seen.part, record.profile)
            case = case_json(read_circuit_case(tx, desk.yard, record, which, now, opened))
        figures = {name: one for name, one in case.items() if name != "until"}
        tag = f'"{digest_of_answer(canonical_bytes(figures))}"'
        answer = _json_response(case)
        if names_tag(request.headers.get("If-None-Match", ""), tag):
            answer = Response(status_code=304)
        answer.headers["ETag"] = f"W/{tag}"
        return answer

    return routes


def _unknown_of_craft(name: str, value: str, known: Sequence[str]) -> Exception:
    problem = f"this craft has no such {name}"
    return unusable_parameter(f"query.{name}", value, problem, _name_one_of(known))


def _name_one_of(known: Sequence[str]) -> str:
    return f"name one of: {', '.join(known) or 'none'}"


def _json_response(told: dict[str, Any]) -> Response:
    content = json.dumps(told, ensure_ascii=False, allow_nan=False)
    return Response(content, media_type="application/json")
