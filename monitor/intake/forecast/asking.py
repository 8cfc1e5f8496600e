"""One polite request: who asks, only what is new, no longer and no larger than it may be."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

import requests

from monitor.bounded_http import bounded_session
from monitor.deadline import Deadline
from monitor.errors import ForecastError

NOT_MODIFIED = 304
_GOOD = {200, 203}  # 203: the agency will change this interface
_LARGEST = 8 * 1024 * 1024  # bytes; a week of all layers is a tenth of it
_REDIRECTS = 3
_LONGEST_FRESH = timedelta(days=1)  # who claims more is asked again after a day
_FORBIDDEN_WAIT = timedelta(hours=1)
_MAX_AGE = re.compile(r"(?:^|[,\s])max-age\s*=\s*\"?(\d{1,9})", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceAnswer:
    """What came back."""

    status: int  # 200, 203 or 304
    body: bytes
    last_modified: str  # the agency's own words; empty where it says none
    fresh_for: timedelta  # no need to ask again before


def ask_service(
    url: str, user_agent: str, now: datetime, timeout_s: float, last_modified: str = ""
) -> ServiceAnswer:
    """Get one address.

    Parameters
    ----------
    url : str
    user_agent : str
        Names program and contact.
    now : datetime
        Aware; counts where the answer does not say when it was made.
    timeout_s : float
        To connect, between two pieces, and three times as long for the whole answer.
    last_modified : str
        What the agency said of the answer at hand; only a newer one is wanted then.

    Raises
    ------
    ForecastError
        Whatever goes wrong; with the time to wait, where the agency says one.
    """
    headers = {"user-agent": user_agent, "accept": "application/geo+json, application/json"}
    if last_modified:
        headers["if-modified-since"] = last_modified
    with Deadline(3.0 * timeout_s, "the answer") as deadline:
        try:
            answer = _ask_within(url, headers, now, timeout_s, deadline)
        except (requests.RequestException, UnicodeError) as error:
            if deadline.passed:
                raise _unfinished_error(url, deadline) from error
            raise ForecastError(f"{url} cannot be had: {error}") from error
        if deadline.passed:  # what was cut off looks like an end where no length was named
            raise _unfinished_error(url, deadline)
        return answer


def _ask_within(
    url: str, headers: dict[str, str], now: datetime, timeout_s: float, deadline: Deadline
) -> ServiceAnswer:
    with bounded_session(deadline) as session:
        session.max_redirects = _REDIRECTS
        with session.get(url, headers=headers, timeout=timeout_s, stream=True) as answer:
            if answer.status_code not in _GOOD and answer.status_code != NOT_MODIFIED:
                raise _refusal_error(answer, now)
            return ServiceAnswer(
                status=answer.status_code,
                body=_read_body(answer),
                last_modified=answer.headers.get("last-modified", ""),
                fresh_for=fresh_for(answer.headers, now),
            )


def _unfinished_error(url: str, deadline: Deadline) -> ForecastError:
    return ForecastError(f"{url} had not answered in full after {deadline.seconds:g} s")


def fresh_for(headers: "requests.structures.CaseInsensitiveDict[str]", now: datetime) -> timedelta:
    """How long an answer may be used without asking again (RFC 9111, section 4.2).

    By max-age, else from Date to Expires, so that a wrong clock here does not matter.
    """
    control = headers.get("cache-control", "")
    max_age = _MAX_AGE.search(control)
    if max_age:
        fresh = timedelta(seconds=int(max_age[1]))
    else:
        expires = _http_date(headers.get("expires"))
        made = _http_date(headers.get("date")) or now
        fresh = expires - made if expires else timedelta()
    age = headers.get("age", "")
    if age.isdecimal() and len(age) < 10:
        fresh -= timedelta(seconds=int(age))
    return min(max(fresh, timedelta()), _LONGEST_FRESH)


def _read_body(answer: requests.Response) -> bytes:
    pieces, size = [], 0
    for piece in answer.iter_content(65536):
        size += len(piece)
        if size > _LARGEST:
            raise ForecastError(f"{answer.url} answers with more than {_LARGEST >> 20} MiB")
        pieces.append(piece)
    return b"".join(pieces)


def _refusal_error(answer: requests.Response, now: datetime) -> ForecastError:
    wait = max(
        _retry_after(answer.headers.get("retry-after", ""), now), fresh_for(answer.headers, now)
    )
    if answer.status_code == requests.codes.forbidden:
        wait = max(wait, _FORBIDDEN_WAIT)
        return ForecastError(f"{answer.url} refuses us (403): is `contact` in order?", wait=wait)
    said = f"{answer.status_code} {answer.reason}"
    return ForecastError(f"{answer.url} answers {said}", wait=wait)


def _retry_after(text: str, now: datetime) -> timedelta:
    """Seconds, or a date (RFC 9110, section 10.2.3)."""
    if text.isdecimal() and len(text) < 10:
        return min(timedelta(seconds=int(text)), _LONGEST_FRESH)
    until = _http_date(text)
    return min(max(until - now, timedelta()), _LONGEST_FRESH) if until else timedelta()


def _http_date(text: str | None) -> datetime | None:
    try:
        at = parsedate_to_datetime(text or "")
    except ValueError:
        return None
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at
