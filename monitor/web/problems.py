"""How a request that fails is answered: never a trace, always what is wrong and what to do."""

import logging
from collections.abc import Iterator, Mapping, Sequence

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from monitor.errors import ArchiveError, BadValueError, StoreError, as_sentence
from monitor.phrases.complaints import what_is_wrong
from monitor.web.refusal_page import is_page, refusal_page

_log = logging.getLogger(__name__)
PROBLEM = "application/problem+json"  # RFC 9457
_STORE_AGAIN_AFTER_S = 30
_LONGEST_REMEDY = 1000  # it may list every act
_SEE_SCHEMA = "/openapi.json says what may stand there"
_SECRET_PATHS = frozenset({"answer", "owner", "password"})
_OF_ADDRESS = frozenset({"header", "path", "query"})
_SHOWN = 20  # faults of one request; the rest are of the same kind


def handle_problems(app: FastAPI) -> None:
    """Answer refusals, bodies that cannot be used, and a store that does not answer."""

    @app.exception_handler(HTTPException)
    async def answer_refusal(request: Request, error: HTTPException) -> Response:
        return problem_response(_path_of(request), error.status_code, error.detail, error.headers)

    @app.exception_handler(RequestValidationError)
    async def answer_unusable(request: Request, error: RequestValidationError) -> Response:
        title = "this request cannot be used; nothing was written"
        if request.method == "GET" and is_page(path := _path_of(request)):
            return refusal_page(path, 422, "this address is none of a page here")
        return faults_response(title, list(_field_faults(error)))

    @app.exception_handler(StoreError)
    async def no_store(request: Request, error: StoreError) -> Response:
        return store_problem(_path_of(request), error)

    @app.exception_handler(ArchiveError)
    async def no_archive(request: Request, error: ArchiveError) -> Response:
        path = _path_of(request)
        _log.warning("%s could not be answered: %s", _loggable_path(path), error)
        title = (
            "raw readings of that time are in the archive, and it cannot be read now; laidup's log"
            " says why"
        )
        return problem_response(path, 503, title)


def store_problem(path: str, error: StoreError) -> Response:
    """The answer where the store gives nothing, and a line in the log."""
    _log.warning("%s could not be answered: %s", _loggable_path(path), error)
    return problem_response(
        path,
        503,
        "laidup's store does not answer now; try again in half a minute, and see its log",
        {"Retry-After": str(_STORE_AGAIN_AFTER_S)},
    )


def _loggable_path(path: str) -> str:
    """A path without the secret that may be its last part."""
    first = path.split("/")[1] if path.startswith("/") else ""
    return f"/{first}/..." if first in _SECRET_PATHS else path


def problem_response(
    path: str, status: int, title: str, headers: Mapping[str, str] | None = None
) -> Response:
    """A refusal: as RFC 9457 has it for programs, as a sentence for whoever opens the page."""
    if is_page(path):
        return refusal_page(path, status, title, headers)
    return JSONResponse(
        {"type": "about:blank", "title": title, "status": status},
        status_code=status,
        headers=headers,
        media_type=PROBLEM,
    )


def faults_response(title: str, faults: Sequence[Mapping[str, str]]) -> Response:
    """The one refusal of what cannot be used: each fault with its key, problem and remedy."""
    return JSONResponse(
        {"type": "about:blank", "title": title, "status": 422, "faults": list(faults)},
        status_code=422,
        media_type=PROBLEM,
    )


def unusable_parameter(name: str, value: str, problem: str, remedy: str) -> RequestValidationError:
    """The error of a parameter that is well written and yet cannot be used, to be raised."""
    error = BadValueError(problem, remedy)
    return RequestValidationError(
        [{"type": "value_error", "loc": name.split("."), "input": value, "ctx": {"error": error}}]
    )


def _field_faults(error: RequestValidationError) -> Iterator[dict[str, str]]:
    """What is wrong with each field.

    What came in a body is not sent back, for it may be no JSON at all; of the address and the
    headers it is.
    """
    for one in error.errors()[:_SHOWN]:
        key = ".".join(str(part) for part in one["loc"] if part != "body")
        problem, remedy = what_is_wrong(one)
        told = f"{as_sentence(remedy)} " if remedy else ""
        fault = {
            "key": "" if one["type"] == "json_invalid" else _printable_text(key),
            "problem": _printable_text(problem),
            "remedy": _printable_text(f"{told}{_SEE_SCHEMA}", _LONGEST_REMEDY),
        }
        if one["loc"][:1] and one["loc"][0] in _OF_ADDRESS and one.get("input") is not None:
            fault["value"] = _printable_text(str(one["input"]))
        yield fault


def _printable_text(text: str, longest: int = 200) -> str:
    """Text that JSON in UTF-8 can carry, of a length that a person reads."""
    return text[:longest].encode("utf-8", "backslashreplace").decode("utf-8")


def _path_of(request: Request) -> str:
    """The path that was asked for; the whole address may hold bytes that are no text."""
    return str(request.scope["path"])
