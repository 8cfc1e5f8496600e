"""What the bench's routes work with: the craft read, and each of its pages made."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
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
    held_together,
    key_of_step,
    read_bench,
)
from monitor.web.pages.bench_fields import fields_shown
from monitor.web.pages.bench_filling import (
    entries_of_yard,
    filled_as_before,
    filled_by_plan,
    last_of_act,
)
from monitor.web.pages.work_done import what_was_proven
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Yard

_NONE = Objections()
_NOTHING_TOLD: Mapping[str, Any] = {}


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

    def read_one(self, tx: Transaction, craft: str, person: Person) -> BenchCraft:
        """One craft in the yard, in the words of who works on it."""
        words = words_for(self.yard, self.clock.now(), person)
        found = read_bench(tx, self.yard, self.profiles, craft, words)
        if found is None:
            raise HTTPException(404, "there is no such craft in the yard now")
        return found

    def show_step(
        self,
        bench: BenchCraft,
        visitor: Visitor,
        step: JobStep | None,
        *,
        filled: Mapping[str, str],
        draft: str = "",
        objections: Objections = _NONE,
        told: Mapping[str, Any] = _NOTHING_TOLD,
    ) -> HTMLResponse:
        """The page of one step; without one, of what the craft holds."""
        order = list(bench.steps_by_key)
        key = "" if step is None else key_of_step(step)
        place = order.index(key) if key in order else len(order)
        by = person_who_enters(visitor).id
        shown = (
            ()
            if step is None or step.act is None
            else fields_shown(
                step, bench.record, self.yard, bench.words, filled, objections.beside, by
            )
        )
        return self.page_of(
            "bench.html",
            HTTPStatus.UNPROCESSABLE_ENTITY if objections else HTTPStatus.OK,
            up="../../",
            bench=bench,
            name=plain(bench.record.craft.name),
            path=craft_path(bench.record.craft.id),
            steps=[(one, bench.sentence_of(step)) for one, step in bench.steps_by_key.items()],
            step=step,
            key=key,
            sentence="" if step is None else bench.sentence_of(step),
            place=place + 1,
            before=order[place - 1] if 0 < place <= len(order) else "",
            after=order[place + 1] if place + 1 < len(order) else "",
            fields=shown,
            act_name="" if step is None or step.act is None else ACTS[step.act].name,
            draft=draft or f"b-{token_hex(8)}",
            objections=objections,
            by=by,
            form_token=visitor.form_token,
            **{"entered": None, "holds": (), "note": "", "same": "", **told},
        )

    def show_finding(
        self,
        bench: BenchCraft,
        visitor: Visitor,
        filled: Mapping[str, str],
        wrong: Mapping[str, str],
        draft: str = "",
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
            draft=draft or f"b-{token_hex(8)}",
            form_token=visitor.form_token,
        )

    def what_was_entered(self, bench: BenchCraft, entry: str, by: str) -> dict[str, Any]:
        """What the last tap put on record and what its circuits hold by it, for the next page."""
        on_record = next((one for one in bench.record.on_record if one.id == entry), None)
        craft = next((one for one in self.read_craft() if one.id == bench.record.craft.id), None)
        if on_record is None or craft is None:
            return {}
        if any(one.replaces == entry for one in bench.record.on_record):
            return {"note": "What you entered is on record, and was taken back or corrected since."}
        held = bench.protections_of(bench.record)
        names = {one.circuit.id: plain(one.circuit.name) for one in bench.record.profile.circuits}
        # Work that says nothing of the frost is not told that it proves nothing of it.
        told = [
            one
            for one in on_record.circuits
            if one in held and (on_record.act in CLAIMS or held[one].state is LayupState.PROVEN)
        ]
        return {
            "entered": what_was_proven(craft, on_record, by, bench.words.now),
            "act": ACTS[on_record.act].name,
            "holds": held_together([(names[one], held[one]) for one in told]),
        }

    def fill_step(
        self, bench: BenchCraft, step: JobStep | None, *, as_before: bool
    ) -> tuple[dict[str, str], str]:
        """What stands in the fields of a step, and whose entry would fill in more."""
        if step is None or step.act is None:
            return {}, ""
        others = self.read_craft()
        here = bench.record.craft.id
        last = last_of_act(entries_of_yard(others), step, here)
        whose = next((one for one in others if last and one.id == last.craft), None)
        filled = filled_by_plan(step, bench.words, last)
        alike = whose is not None and whose.profile == bench.record.craft.profile
        same = {**filled, **filled_as_before(step, bench.words, last, same_type=alike)}
        if as_before:
            return same, ""
        return filled, plain(whose.name) if whose is not None and same != filled else ""


def person_who_enters(visitor: Visitor) -> Person:
    """The person in whose name a visitor enters work; nobody else does."""
    if visitor.person is None:
        raise HTTPException(403, "only a person of the yard enters work")
    return visitor.person
