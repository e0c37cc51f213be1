"""The whole JSON interface against its own description: no server error, no answer that it does not describe."""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis.checks import not_a_server_error
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    response_headers_conformance,
]
NORMAL, SOAK = 5, 300


def asked(mixer: Any, case: Any) -> Any:
    """The drawn request, sent as a page of the mixer would send it."""
    drawn = case.as_transport_kwargs(base_url=str(mixer.base_url))
    ours = ("origin", "x-rollsound-token", "host", "content-length", "transfer-encoding")
    headers = {
        name: value.encode("utf-8", "replace") if isinstance(value, str) else value
        for name, value in dict(drawn.get("headers") or {}).items()
        if name.lower() not in ours
    }
    body = {name: drawn[name] for name in ("json", "params") if drawn.get(name) is not None}
    if drawn.get("data") is not None:
        body["content"] = drawn["data"]
    return mixer.request(drawn["method"], drawn["url"], headers=headers, **body)


def sweep(mixer: Any, examples: int) -> list[str]:
    """Every operation, with drawn requests that fit its description and with ones that do not."""
    schema = schemathesis.openapi.from_dict(mixer.get("/api/v1/openapi.json").json())
    swept = []
    for found in schema.get_all_operations():
        operation = found.ok()
        for mode in GenerationMode:

            @settings(
                max_examples=examples,
                deadline=None,
                database=None,
                derandomize=True,
                phases=(Phase.generate,),
                suppress_health_check=list(HealthCheck),
            )
            @given(case=operation.as_strategy(generation_mode=mode))
            def fits(case: Any) -> None:
                case.validate_response(asked(mixer, case), checks=CHECKS)

            try:
                fits()
            except Unsatisfiable:
                # a request without any part that could be wrong cannot be made wrong
                assert mode is GenerationMode.NEGATIVE, operation.label
        swept.append(operation.label)
    return swept


def test_every_answer_is_as_described(mixer: Any) -> None:
    swept = sweep(mixer, NORMAL)
    described = mixer.get("/api/v1/openapi.json").json()["paths"]
    assert len(swept) == sum(len(each) for each in described.values())


@pytest.mark.soak
def test_every_answer_is_as_described_for_long(mixer: Any) -> None:
    sweep(mixer, SOAK)
