"""Reports as JSON: the figures of the weekly one."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Path
from fastapi.responses import Response
from pydantic import TypeAdapter

from monitor.craft.fields import in_our_time
from monitor.reports.week import compose
from monitor.reports.week_account import WeekAccount, week_account
from monitor.web.api.desk import ApiDesk
from monitor.web.problems import unusable_parameter

_WEEK = r"^[0-9]{4}-W[0-9]{2}$"
_AS_JSON = TypeAdapter(WeekAccount)


def report_routes(desk: ApiDesk) -> APIRouter:
    """Make the routes of reports.

    Parameters
    ----------
    desk : ApiDesk
        A report is of the whole yard: it is read from the hours, and not kept.
    """
    routes = APIRouter(prefix="/api", tags=["reports"])

    @routes.get("/reports/weeks/{week}", response_model=WeekAccount)
    def read_week(
        week: Annotated[str, Path(pattern=_WEEK, description="ISO 8601, such as 2026-W46")],
    ) -> Response:
        """Tell one week in figures: the air of each space, its alarms, the skill of the evenings.

        Of the week that is not over, what there is up to now.
        """
        now = desk.clock.now()
        monday = _monday_of(week)
        if monday > now.astimezone(desk.yard.zone).date():
            raise unusable_parameter(
                "path.week", week, "it has not begun yet", "ask for a week that has"
            )
        report = compose(desk.store, desk.yard, desk.craft_now(), monday, now)
        return Response(_AS_JSON.dump_json(week_account(report)), media_type="application/json")

    return routes


def _monday_of(week: str) -> date:
    """The day that a week begins with, by ISO 8601.

    Raises
    ------
    RequestValidationError
        If the calendar has no such week.
    """
    try:
        return in_our_time(date.fromisocalendar(int(week[:4]), int(week[6:]), 1))
    except ValueError as error:
        raise unusable_parameter(
            "path.week", week, "there is no such week", "write one like 2026-W46"
        ) from error
