"""What the bench's routes work with: the craft read, and each of its pages made."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from http import HTTPStatus
from secrets import token_hex
from typing import Any

from fastapi import HTTPException
from fastapi.responses import HTMLResponse
from jinja2 import Environment

from monitor.clock import Clock
from monitor.craft.act_table import CLAIMS
from monitor.craft.acts import ACTS
from monitor.craft.layup import FindingKind
from monitor.craft.plan.step import JobStep
from monitor.craft.profile import Profile
from monitor.craft.protection import LayupState
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import plain
from monitor.store.store import Store, Transaction
from monitor.web.access.visitor import Visitor
from monitor.web.page_templates import craft_path
from monitor.web.pages.bench import (
    BenchCraft,
    Objections,
    key_of_step,
    read_bench,
)
from monitor.web.pages.bench_entry import PHOTO, can_take_back
from monitor.web.pages.bench_fields import FieldShown, fields_shown
from monitor.web.pages.bench_filling import fill_step
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Yard

_NONE = Objections()
_NO_COMPLAINTS: Mapping[str, str] = {}
_NOTHING_TOLD: Mapping[str, Any] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class StepShown:
    """One step as its form shows it."""

    key: str
    place: int  # in the whole job, from 1; 0: the plan no longer has it
    step: JobStep
    sentence: str
    act_name: str
    fields: tuple[FieldShown, ...]
    same: str  # the craft as which it can be filled in
    photo_complaint: str
    draft: str
    before: str = ""  # the step before it that is left, by its key
    after: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchDesk:
    """What the routes of the bench work with."""

    store: Store
    yard: Yard
    profiles: Mapping[str, Profile]
    clock: Clock
    read_craft: Callable[[], Sequence[StoredCraft]]
    templates: Environment

    def page_of(self, template: str, status: int = HTTPStatus.OK, **said: Any) -> HTMLResponse:  # noqa: ANN401
        """Render one page."""
        return HTMLResponse(self.templates.get_template(template).render(**said), status)

    def read_one(
        self, tx: Transaction, craft: str, person: Person, *, only_tonight: bool = False
    ) -> BenchCraft:
        """One craft in the yard, in the words of who works on it."""
        words = words_for(self.yard, self.clock.now(), person)
        found = read_bench(tx, self.yard, self.profiles, craft, words, only_tonight=only_tonight)
        if found is None:
            raise HTTPException(404, "there is no such craft in the yard now")
        return found

    def show_step(
        self,
        bench: BenchCraft,
        visitor: Visitor,
        step: JobStep | None,
        *,
        as_before: bool = False,
        sent: Mapping[str, str] | None = None,
        photos: Sequence[str] = (),
        objections: Objections = _NONE,
        told: Mapping[str, Any] = _NOTHING_TOLD,
    ) -> HTMLResponse:
        """The page of one step, the others folded away in it; without one, of what is held.

        Parameters
        ----------
        bench : BenchCraft
        visitor : Visitor
        step : JobStep or None
        as_before : bool
            Fill it in as the last craft was.
        sent : mapping of str to str, optional
            The form as it was sent, where something is said against it.
        photos : sequence of str
            Those that came with it and are kept meanwhile.
        objections : Objections
        told : mapping of str to object
            What is said above the step.
        """
        others = self.read_craft()
        by = person_who_enters(visitor).id

        def shown(one: JobStep, key: str, place: int) -> StepShown:
            here = step is not None and key == key_of_step(step)
            return self._step_shown(
                bench,
                one,
                key,
                place,
                others,
                by,
                as_before=as_before and here,
                sent=sent if here else None,
                complaints=objections.beside if here else _NO_COMPLAINTS,
            )

        done = bench.steps_of_job - len(bench.plan.steps)
        steps = [
            shown(one, key, done + number)
            for number, (key, one) in enumerate(bench.steps_by_key.items(), start=1)
        ]
        steps = [
            replace(
                one,
                before=steps[number - 1].key if number else "",
                after=steps[number + 1].key if number + 1 < len(steps) else "",
            )
            for number, one in enumerate(steps)
        ]
        now = next((one for one in steps if step and one.key == key_of_step(step)), None)
        if now is None and step is not None:  # the plan no longer has it
            now = shown(step, key_of_step(step), 0)
        return self.page_of(
            "bench.html",
            HTTPStatus.UNPROCESSABLE_ENTITY if objections else HTTPStatus.OK,
            up="../../",
            bench=bench,
            name=plain(bench.record.craft.name),
            path=craft_path(bench.record.craft.id),
            steps=steps,
            now=now,
            total=bench.steps_of_job,
            photos=photos,
            objections=objections,
            by=by,
            form_token=visitor.form_token,
            **{"entered": None, "holds": (), "note": "", **told},
        )

    def _step_shown(
        self,
        bench: BenchCraft,
        step: JobStep,
        key: str,
        place: int,
        others: Sequence[StoredCraft],
        by: str,
        *,
        as_before: bool,
        sent: Mapping[str, str] | None,
        complaints: Mapping[str, str],
    ) -> StepShown:
        offer = ""
        fields: tuple[FieldShown, ...] = ()
        if step.act is not None:
            filled, offer = fill_step(bench, step, others, by, as_before=as_before)
            filled = dict(sent) if sent is not None else filled
            fields = fields_shown(
                step, bench.record, self.yard, bench.words, filled, complaints, by
            )
        return StepShown(
            key=key,
            place=place,
            step=step,
            sentence=bench.sentence_of(step),
            act_name="" if step.act is None else ACTS[step.act].name,
            fields=fields,
            same="" if sent is not None else offer,
            photo_complaint=complaints.get(PHOTO, ""),
            draft=(sent or {}).get("draft", "") or f"b-{token_hex(8)}",
        )

    def show_finding(
        self,
        bench: BenchCraft,
        visitor: Visitor,
        filled: Mapping[str, str],
        wrong: Mapping[str, str],
        photos: Sequence[str] = (),
    ) -> HTMLResponse:
        """The page on which something found wrong is told."""
        return self.page_of(
            "bench_finding.html",
            HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK,
            up="../../",
            name=plain(bench.record.craft.name),
            filled=filled,
            wrong=wrong,
            by=person_who_enters(visitor).id,
            kinds=[str(one) for one in FindingKind],
            path=craft_path(bench.record.craft.id),
            photos=photos,
            draft=filled.get("draft", "") or f"b-{token_hex(8)}",
            form_token=visitor.form_token,
        )

    def what_was_entered(self, bench: BenchCraft, entry: str, by: str) -> dict[str, Any]:
        """What the last tap put on record and what its circuits hold by it, for the next page."""
        on_record = next((one for one in bench.record.on_record if one.id == entry), None)
        if on_record is None:
            return {}
        if any(one.replaces == entry for one in bench.record.on_record):
            return {"note": "What you entered is on record, and was taken back or corrected since."}
        held = bench.protections_of(bench.record)
        # Work that says nothing of the frost is not told that it proves nothing of it.
        told = [
            one
            for one in on_record.circuits
            if one in held and (on_record.act in CLAIMS or held[one].state is LayupState.PROVEN)
        ]
        return {
            "entered": on_record,
            "can_be_undone": can_take_back(on_record, by, bench.words.now),
            "act": ACTS[on_record.act].name,
            "holds": bench.held_by(told),
        }


def person_who_enters(visitor: Visitor) -> Person:
    """The person in whose name a visitor enters work; nobody else does."""
    if visitor.person is None:
        raise HTTPException(403, "only a person of the yard enters work")
    return visitor.person
