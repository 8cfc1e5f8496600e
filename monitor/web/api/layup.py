"""JSON API of the lay-up record: enter a piece of work, read it back, see what it adds up to."""

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Path, Query, Request, Response
from pydantic import (
    AwareDatetime,
    BaseModel,
    Field,
)

from monitor.clock import Clock
from monitor.craft.canonical import entry_json
from monitor.craft.craft_stays import Shelter
from monitor.craft.layup import LayupEntry
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.profile import Profile
from monitor.craft.protection import Protection
from monitor.craft.reach import reached
from monitor.craft.record import CraftRecord, layup_plan, protections_on_record
from monitor.errors import Fault, RecordError, problem_and_remedy
from monitor.phrases.complaints import ID
from monitor.phrases.figures import plan_json
from monitor.store.entering import enter
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.store.yard_breaks import words_of_yard_breaks
from monitor.units import json_number
from monitor.web.access.visitor import STRANGER, visitor_of
from monitor.web.api.desk import link_next_page
from monitor.web.api.entry_body import EntryBody
from monitor.web.api.repeats import IdempotencyKey, do_once
from monitor.web.problems import faults_response, unusable_parameter
from monitor.wording import Wording
from monitor.yard.space import USUAL_DESIGN_LOW_C, Yard

_ENTRY_ID = r"^[A-Za-z0-9._:-]{1,128}$"
CraftId = Annotated[str, Path(pattern=ID)]


class CircuitOut(BaseModel):
    """What one circuit can stand, and how we know."""

    circuit: str
    state: str
    liquid: str
    glycol_mass_fraction: float | None
    ice_point_c: float | None = Field(description="null: seen dry, so there is none")
    burst_point_c: float | None
    basis: str
    confidence: str
    suspect_since: AwareDatetime | None
    why: str


class Entered(BaseModel):
    """What an entry came to."""

    entry: str
    new: bool = Field(description="false: the same work was on record already")
    circuits: tuple[CircuitOut, ...]
    breaks: tuple[str, ...] = Field(
        default=(),
        description="where the record of the craft, or of the yard as a whole, did not hold before"
        " this; the entry is kept all the same, and `laidup verify` says more",
    )


def layup_router(
    store: Store,
    profiles: Mapping[str, Profile],
    shelters: Mapping[str, Shelter],
    clock: Clock,
    wording: Wording,
    yard: Yard | None = None,
) -> APIRouter:
    """Build the routes under ``/api/craft/{craft}``.

    Parameters
    ----------
    store : Store
        Read in snapshots; an entry is written in a transaction of its own.
    profiles : mapping of str to Profile
        The library.
    shelters : mapping of str to Shelter
        The yard's spaces as the record sees them.
    clock : Clock
        Tells the time of writing; work later than this is refused.
    wording : Wording
        Zone and units of the sentences, and who may enter work.
    yard : Yard, optional
        Its shelf and the low that plans are made for.
    """
    router = APIRouter(
        prefix="/api/craft/{craft}",
        tags=["lay-up"],
    )

    def record_of(craft: str) -> CraftRecord:
        with store.snapshot() as tx:
            found = tx.layup.record_of(craft, profiles)
        if found is None:
            raise HTTPException(404, f"no craft {craft!r} is on record")
        return found

    def protection_of(record: CraftRecord) -> dict[str, Protection]:
        return protections_on_record(record, shelters, clock.now(), wording)

    def write_work(tx: Transaction, entry: LayupEntry) -> Response:
        """Write an entry, and say what it came to: in one transaction, as its answer is kept."""
        of_yard = words_of_yard_breaks(tx)
        new = enter(tx.layup, [entry], profiles, clock.now(), "entry") > 0
        marked = [str(one) for one in tx.layup.chain.marked]
        record = tx.layup.record_of(entry.craft, profiles)
        if record is None:
            raise HTTPException(404, f"no craft {entry.craft!r} is on record")
        now = protection_of(record)
        told = Entered(
            entry=entry.id,
            new=new,
            breaks=(*marked, of_yard) if of_yard else tuple(marked),
            circuits=tuple(_circuit_out(now[name]) for name in _touched_by(entry, record)),
        )
        return Response(
            told.model_dump_json(),
            status_code=201 if new else 200,
            media_type="application/json",
        )

    @router.get("/layup")
    def read_work(
        craft: CraftId,
        request: Request,
        response: Response,
        limit: Annotated[int, Query(ge=1, le=1000)] = 500,
        cursor: Annotated[
            str | None, Query(pattern=_ENTRY_ID, description="from the Link to the next page")
        ] = None,
    ) -> list[dict[str, Any]]:
        """Tell the work on a craft as it was written; what was replaced says by what."""
        written = record_of(craft).on_record
        replaced = {one.replaces: one.id for one in written if one.replaces}
        told = _entries_behind(written, cursor)
        if len(told) > limit:
            link_next_page(response, request, cursor=told[limit - 1].id)
        return [{**entry_json(one), "replaced_by": replaced.get(one.id)} for one in told[:limit]]

    @router.get("/protection", response_model=list[CircuitOut])
    def read_protection(craft: CraftId) -> list[CircuitOut]:
        """Tell what each circuit can stand now, and how we know."""
        return [_circuit_out(one) for one in protection_of(record_of(craft)).values()]

    @router.get("/plan")
    def read_plan(
        craft: CraftId, low_c: Annotated[float | None, Query(ge=-80, le=40)] = None
    ) -> dict[str, Any]:
        """Tell the job that is left on a craft, for a low or else for the yard's own."""
        record = record_of(craft)
        shelf = (yard.shelf if yard else ()) or USUAL_SHELF
        usual_c = yard.design_low_c if yard else USUAL_DESIGN_LOW_C
        low = usual_c if low_c is None else low_c
        made = layup_plan(record, shelters, clock.now(), low, shelf)
        return plan_json(made, record.profile, wording)

    @router.post(
        "/layup",
        status_code=201,
        response_model=Entered,
        responses={
            200: {"model": Entered, "description": "on record already; nothing was added"},
            404: {"description": "no such craft"},
            422: {"description": "what is wrong, each with its remedy; nothing was written"},
        },
    )
    def enter_work(
        craft: CraftId, body: EntryBody, request: Request, key: IdempotencyKey = None
    ) -> Response:
        """Enter one piece of work. Nothing on record is edited: correct with ``replaces``."""
        record_of(craft)
        try:
            entry = body.to_layup_entry(craft, wording.people, yard.shelf if yard else ())
            asked = f"POST layup {craft} {body.model_dump_json()}"
            with store.transaction() as tx:
                visitor = visitor_of(request) if key else STRANGER
                return do_once(tx, visitor, key, asked, clock.now(), lambda: write_work(tx, entry))
        except RecordError as error:
            return _refuse_faults(error.faults)
        except ValueError as error:
            problem, remedy = problem_and_remedy(error)
            return _refuse_faults([Fault(file="entry", key="", problem=problem, remedy=remedy)])

    return router


def _entries_behind(written: Sequence[LayupEntry], cursor: str | None) -> Sequence[LayupEntry]:
    """What stands behind the last entry of a page that was told."""
    if cursor is None:
        return written
    places = {one.id: place for place, one in enumerate(written)}
    if cursor not in places:
        raise unusable_parameter(
            "query.cursor",
            cursor,
            "no entry of this craft has that id",
            "take the cursor of the Link to the next page as it is",
        )
    return written[places[cursor] + 1 :]


def _touched_by(entry: LayupEntry, record: CraftRecord) -> tuple[str, ...]:
    """Circuits that an entry reaches, and those of what it takes back or puts right."""
    gone = [one for one in record.on_record if entry.replaces and one.id == entry.replaces]
    names = {name for one in (entry, *gone) for name in reached(one, record.profile)}
    return tuple(name for name in record.profile.circuit_ids if name in names)


def _refuse_faults(faults: Sequence[Fault]) -> Response:
    return faults_response(
        "this entry cannot go into the record; nothing was written",
        [{"key": one.key, "problem": one.problem, "remedy": one.remedy} for one in faults],
    )


def _circuit_out(one: Protection) -> CircuitOut:
    return CircuitOut(
        circuit=one.circuit,
        state=str(one.state),
        liquid=one.liquid,
        glycol_mass_fraction=one.glycol_mass_fraction,
        ice_point_c=json_number(one.ice_point_c),
        burst_point_c=json_number(one.burst_point_c),
        basis=str(one.basis),
        confidence=str(one.confidence),
        suspect_since=one.suspect_since,
        why=one.why,
    )
