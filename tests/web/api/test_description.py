"""The whole API held against its own description, by requests that a library makes up."""

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.strategies import booleans
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    missing_required_header,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
    unsupported_method,
)

from monitor.web.access.route_rights import ROUTE_RIGHTS
from tests.reports import kettlemoss
from tests.tried import tried

CHECKS = [
    not_a_server_error, status_code_conformance, content_type_conformance,
    response_schema_conformance, response_headers_conformance, negative_data_rejection,
    missing_required_header, unsupported_method,
]  # fmt: skip
OPERATIONS = [
    (method, row.path)
    for row in ROUTE_RIGHTS
    for method in row.methods
    if row.path.startswith("/api/")
]
# What is there: what the library makes up seldom is.
KNOWN = {
    "craft": "k2",
    "sensor": "urn:dev:ops:kettlemoss-long-shed",
    "channel": "temperature",
    "alarm": kettlemoss.alarms()[0].id,
    "space": kettlemoss.yard().spaces[0].id,
}
TRIED = settings(
    max_examples=tried(6),
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture
def described(api):
    return schemathesis.openapi.from_asgi("/openapi.json", api.app)


def test_the_description_names_every_route_of_the_api(described):
    told = {
        (method.upper(), path)
        for path, operations in described.raw_schema["paths"].items()
        for method in operations
        if path.startswith("/api/")
    }
    assert told == set(OPERATIONS)


@pytest.mark.parametrize("mode", GenerationMode)
@pytest.mark.parametrize(("method", "path"), OPERATIONS)
def test_every_answer_is_what_the_description_says(api, described, method, path, mode):
    operation = described[path][method]
    parts = operation.path_parameters, operation.query, operation.headers
    if mode is GenerationMode.NEGATIVE and not any(parts) and not operation.body:
        return  # nothing can be wrong with a request that says nothing

    @TRIED
    @given(case=operation.as_strategy(generation_mode=mode), is_known=booleans())
    def hold_answer_against_description(case, is_known):
        for part in (case.path_parameters, case.query):
            for name in part if is_known and mode is GenerationMode.POSITIVE else ():
                part[name] = KNOWN.get(name, part[name])
        answer = case.call(headers=api.operator)
        case.validate_response(answer, checks=CHECKS, headers=api.operator)
        if answer.status_code >= 400:
            assert answer.headers["content-type"] == ["application/problem+json"]
            assert answer.json()["status"] == answer.status_code

    hold_answer_against_description()
