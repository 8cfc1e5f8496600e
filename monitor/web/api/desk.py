"""What every part of the API needs to answer, and what lists ask alike: a stretch, a next page."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Query, Request, Response
from pydantic import AfterValidator, AwareDatetime

from monitor.clock import Clock
from monitor.craft.fields import in_our_time
from monitor.craft.profile import Profile
from monitor.craft.stored import StoredCraft
from monitor.store.store import Store
from monitor.web.access.visitor import Visitor
from monitor.web.problems import unusable_parameter
from monitor.wording import SI, Wording
from monitor.yard.space import STAFF, Yard

_Moment = Annotated[AwareDatetime, AfterValidator(in_our_time)]
Since = Annotated[
    _Moment | None, Query(description="RFC 3339 with its offset; from then on (included)")
]
Until = Annotated[
    _Moment | None, Query(description="RFC 3339 with its offset; before then; left out: now")
]
USUAL_SPAN = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiDesk:
    """A yard and its store. ``craft_now`` tells the craft in the yard's care."""

    store: Store
    yard: Yard
    clock: Clock
    profiles: Mapping[str, Profile]
    craft_now: Callable[[], Sequence[StoredCraft]]

    def si_words(self) -> Wording:
        """How sentences are written for programs: SI, by the yard's clock."""
        return Wording(zone=self.yard.zone, now=self.clock.now(), units=SI)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of time, closed at its beginning and open at its end; both UTC."""

    since: datetime
    until: datetime


def stretch_asked_for(
    since: datetime | None,
    until: datetime | None,
    now: datetime,
    usual: timedelta = USUAL_SPAN,
    longest: timedelta | None = None,
) -> Stretch:
    """The stretch that somebody means by what they said of it.

    Raises
    ------
    RequestValidationError
        If it is empty or too long; it names parameter, value and remedy.
    """
    end = (until or now).astimezone(UTC)
    begin = (end - usual if since is None else since).astimezone(UTC)
    if begin >= end:
        raise unusable_parameter(
            "query.since",
            utc_text(begin),
            f"it does not lie before until, {utc_text(end)}",
            "name an earlier since, or a later until",
        )
    if longest is not None and end - begin > longest:
        raise unusable_parameter(
            "query.since",
            utc_text(begin),
            f"it lies more than {longest.days} days before until, {utc_text(end)}",
            f"ask for {longest.days} days at most, one stretch after the other",
        )
    return Stretch(since=begin, until=end)


def link_next_page(response: Response, request: Request, **parameters: object) -> None:
    """Say where the next page is (RFC 8288), relative: a proxy may have put all below a path."""
    asked = {**request.query_params, **{name: str(value) for name, value in parameters.items()}}
    response.headers["Link"] = f'<?{urlencode(asked)}>; rel="next"'


def utc_text(at: datetime) -> str:
    """A time as RFC 3339 in UTC, with parts of a second only where it has any."""
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def person_acting(desk: ApiDesk, said: str | None, visitor: Visitor) -> str:
    """The id of the person in whose name this is done."""
    if visitor.person is not None:
        if said not in {None, visitor.person.id}:
            raise unusable_parameter(
                "by", "", "it is not who is signed in", "leave it out: it is done in your name"
            )
        return visitor.person.id
    staff = sorted(one.id for one in desk.yard.people if one.roles & STAFF)
    if said not in staff:
        wrong = "nobody is named" if said is None else "nobody who acts at this yard"
        raise unusable_parameter("by", "", wrong, f"name one of {', '.join(staff)}")
    return str(said)
