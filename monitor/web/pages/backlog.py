"""The page of autumn's backlog: the whole of it, and of a large yard its craft by space or name."""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from threading import Lock

from fastapi import APIRouter, Request, Response
from jinja2 import Environment

from monitor.clock import Clock
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import plain
from monitor.reports.backlog import AutumnBacklog, read_backlog
from monitor.reports.backlog_lines import backlog_lines
from monitor.reports.standing_work import StandingWork
from monitor.store.store import Store
from monitor.web.access.visitor import visitor_of
from monitor.web.kept_pages import KeptPages, YardChanges
from monitor.web.pages.yard_craft_list import CraftAsked, StartAsked, TextAsked, count_by_space
from monitor.yard.readers import units_of, words_for
from monitor.yard.space import Person, Yard

MOST_LEFT = 30  # craft on one page; a yard that has more left is looked through by space or name


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftCraft:
    """The craft that a page lists of those that are left, and how many it leaves out."""

    asked: CraftAsked
    found: int  # left and asked for
    work: Sequence[StandingWork]
    spaces: Sequence[tuple[str, str, int]]  # id, name, craft left there; empty: all are listed
    space_name: str = ""  # of the space asked for

    @property
    def next(self) -> CraftAsked | None:
        """What shows those behind; None: these are the last."""
        return self.asked.asked_behind(len(self.work), self.found)


def list_left_craft(undone: Sequence[StandingWork], yard: Yard, asked: CraftAsked) -> LeftCraft:
    """The craft that were asked for, in the order of the backlog, `MOST_LEFT` at most."""
    found = [one for one in undone if asked.takes_in(one.craft.space, one.craft.name)]
    names = {one.id: plain(one.name) for one in yard.spaces}
    here = (one.craft.space for one in undone if one.craft.space in names)
    return LeftCraft(
        asked=asked,
        found=len(found),
        work=found[asked.start : asked.start + MOST_LEFT],
        spaces=count_by_space(here, names) if len(undone) > MOST_LEFT else [],
        space_name=names.get(asked.space, asked.space),
    )


class BacklogDesk:
    """What the route works with; the backlog is reckoned once for all its pages."""

    def __init__(
        self,
        store: Store,
        yard: Yard,
        craft_now: Callable[[], Sequence[StoredCraft]],
        clock: Clock,
        templates: Environment,
    ) -> None:
        self._store, self.yard, self._craft_now = store, yard, craft_now
        self._clock, self._templates = clock, templates
        self._lock = Lock()
        self._kept: tuple[Hashable, AutumnBacklog] | None = None

    def write_page(self, person: Person | None, asked: CraftAsked) -> bytes:
        """The page for one reader."""
        words = words_for(self.yard, self._clock.now(), person)
        backlog = self._read_backlog_once()
        left = list_left_craft(backlog.work.undone, self.yard, asked)
        said = backlog_lines(backlog, self.yard, words, left.work)
        page = self._templates.get_template("backlog.html")
        return page.render(up="", said=said, left=left, yard=self.yard).encode()

    def _read_backlog_once(self) -> AutumnBacklog:
        """The backlog under the yard's present mark, which is asked for before it is read."""
        now = self._clock.now()
        with self._lock:
            mark = (self._store.change_mark(), int(now.timestamp() // 60))
            if self._kept is None or self._kept[0] != mark:
                craft = self._craft_now()
                with self._store.snapshot() as tx:
                    self._kept = (mark, read_backlog(tx, self.yard, craft, now))
            return self._kept[1]


def backlog_routes(desk: BacklogDesk, changes: YardChanges) -> APIRouter:
    """Make the route."""
    routes = APIRouter(include_in_schema=False)
    kept = KeptPages(changes, "text/html; charset=utf-8")

    @routes.get("/backlog")
    async def show_backlog(
        request: Request, find: TextAsked = "", space: TextAsked = "", start: StartAsked = 0
    ) -> Response:
        person = visitor_of(request).person
        asked = CraftAsked(find=find, space=space, start=start)
        view = (units_of(desk.yard, person), asked)  # all that two readers' pages differ by
        return await kept.answer_request(request, view, lambda: desk.write_page(person, asked))

    return routes
