"""The interface against its own description: whatever a device sends, the server answers as described and goes on."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.live_table import CODE, Nursery, Running, small_plan

# The stream never ends by itself; it is asked for in test_app.py.
OPERATIONS = ("/api/entries", "/api/take-in", "/api/table", "/api/numbers", "/api/symbol", "/api/stick")


@pytest.fixture(scope="module")
def running(nursery: Nursery, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    folder: Path = tmp_path_factory.mktemp("openapi")
    (folder / "plan.json").write_text(json.dumps(small_plan()), encoding="utf-8")
    server = nursery.serve(folder / "river.keepfast", folder / "plan.json", series=True, code=CODE)
    server.pair()
    yield server
    server.kill()


@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE])
@pytest.mark.parametrize("path", OPERATIONS)
def test_whatever_is_sent_the_answer_is_as_described(running: Running, path: str, mode: GenerationMode) -> None:
    document = json.loads(running.ask("GET", "/api/openapi.json")[2])
    schema = schemathesis.openapi.from_dict(document)
    schema.config.update(base_url=running.address)
    checks = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
    if path == "/api/table" and mode is GenerationMode.NEGATIVE:
        return  # it takes nothing that could be wrong
    tried = 0
    for operation in schema.include(path=path).get_all_operations():
        one = operation.ok()

        @settings(
            max_examples=40, deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck)
        )
        @given(case=one.as_strategy(generation_mode=mode))
        def fuzz(case: schemathesis.Case) -> None:
            nonlocal tried
            tried += 1
            response = case.call(headers={"Cookie": running.cookie, "Origin": running.address}, timeout=120)
            case.validate_response(response, checks=checks)

        fuzz()
    assert tried > 0
    assert 200 == running.ask("GET", "/pen")[0]
