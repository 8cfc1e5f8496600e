"""The API's description (OpenAPI): each operation with its refusals, in the one shape they have."""

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from monitor.web.access.route_rights import ROUTE_RIGHTS
from monitor.web.problems import PROBLEM

API_VERSION = "1"
_KEY = "key"
_ABOUT = (
    "SI with the unit in the key; times are RFC 3339 in UTC; null: not known. Refusals are RFC 9457"
    " problem documents. Lists go on behind `Link: rel=next` (RFC 8288). Within a version keys are"
    " only added; what will go is marked as deprecated first."
)
_FAULT = {
    "type": "object",
    "required": ["key", "problem", "remedy"],
    "properties": {
        "key": {"type": "string", "description": "which parameter or field; empty: the whole body"},
        "value": {"type": "string", "description": "what came in the address or a header"},
        "problem": {"type": "string"},
        "remedy": {"type": "string"},
    },
}
_PROBLEM_SCHEMA = {
    "type": "object",
    "description": "RFC 9457",
    "required": ["type", "title", "status"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "faults": {
            "type": "array",
            "items": _FAULT,
            "description": "of 422: what cannot be used",
        },
    },
}
_OFTEN = {
    "401": "nobody is known by what was shown: send a key",
    "403": "whoever asks may not do this",
    "503": "too many ask, or the store does not answer; Retry-After says when to come again",
}
_WITH_PARTS = {"404": "there is no such thing, or none for whoever asks"}
_OF_BODIES = {
    "400": "the body cannot be read",
    "408": "the body came too slowly",
    "413": "the body is too large",
    "422": "what is wrong, each with its remedy; nothing was written",
}
_UNUSABLE = {"422": "a parameter cannot be used; which, and what would do"}
_TAG = {
    "ETag": {
        "description": "strong, but of a season record and a claim (RFC 9110)",
        "schema": {"type": "string"},
    }
}
_NEXT = {"Link": {"description": "rel=next (RFC 8288), relative", "schema": {"type": "string"}}}


def describe_api(app: FastAPI) -> None:
    """Have an app describe its refusals as they are, in the place of the framework's own shape."""

    def describe() -> dict[str, Any]:
        if app.openapi_schema is None:
            found = get_openapi(
                title=app.title, version=API_VERSION, description=_ABOUT, routes=app.routes
            )
            _describe_parts(found.setdefault("components", {}))
            for path, operations in found["paths"].items():
                for method, operation in operations.items():
                    _describe_operation(path, method, operation)
            app.openapi_schema = found
        return app.openapi_schema

    app.openapi = describe  # type: ignore[method-assign]  # as the framework's handbook has it


def _describe_parts(components: dict[str, Any]) -> None:
    schemas = components.setdefault("schemas", {})
    for name in ("HTTPValidationError", "ValidationError"):
        schemas.pop(name, None)
    schemas["Problem"] = _PROBLEM_SCHEMA
    components["securitySchemes"] = {
        _KEY: {
            "type": "http",
            "scheme": "bearer",
            "description": "a key, laidup-key-...; `laidup access key` makes one",
        }
    }


def _describe_operation(path: str, method: str, operation: dict[str, Any]) -> None:
    answers = operation["responses"]
    answers.pop("422", None)
    refusals: dict[str, str] = {}
    if any(row.path == path and row.needs is not None for row in ROUTE_RIGHTS):
        operation["security"] = [{_KEY: []}]
        refusals |= _OFTEN
    if "{" in path:
        refusals |= _WITH_PARTS
    if operation.get("parameters"):
        refusals |= _UNUSABLE
    if any(one["name"] == "sensor" for one in operation.get("parameters", ())):
        refusals |= _WITH_PARTS
    if "requestBody" in operation:
        refusals |= _OF_BODIES
    for status, words in refusals.items():
        answers.setdefault(status, {"description": words})
    for status, answer in answers.items():
        if status >= "400" and path.startswith("/api/"):
            answer["content"] = {PROBLEM: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    if method == "get" and path.startswith("/api/"):
        answers["200"]["headers"] = dict(_TAG)
        answers["304"] = {"description": "as If-None-Match has it", "headers": dict(_TAG)}
        if any(one["name"] == "cursor" for one in operation.get("parameters", ())):
            answers["200"]["headers"] |= _NEXT
