"""The served OpenAPI document and what is behind it, held together by schemathesis: no surprise, and no 5xx."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis import GenerationMode
from schemathesis.core.result import Ok

from tests.web.served import served

pytestmark = [pytest.mark.process, pytest.mark.slow]
EXAMPLES = 40
PATIENCE_S = 10.0
LEAST_OPERATIONS = 6


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """A page on a loop and in a thread of its own."""
    there = threading.Event()
    at: list[tuple[str, asyncio.AbstractEventLoop, asyncio.Event]] = []

    async def serve() -> None:
        async with served(tmp_path) as house:
            over = asyncio.Event()
            at.append((house.url, asyncio.get_running_loop(), over))
            there.set()
            await over.wait()

    thread = threading.Thread(target=lambda: asyncio.run(serve()))
    thread.start()
    assert there.wait(PATIENCE_S)
    url, loop, over = at[0]
    yield url
    loop.call_soon_threadsafe(over.set)
    thread.join()


@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE], ids=["sense", "nonsense"])
def test_every_answer_is_one_that_the_document_names(address: str, mode: GenerationMode) -> None:
    document = schemathesis.openapi.from_url(f"{address}/api/openapi.json")
    operations = [found.ok() for found in document.get_all_operations() if isinstance(found, Ok)]
    assert len(operations) >= LEAST_OPERATIONS

    for operation in operations:
        if mode is GenerationMode.NEGATIVE and not operation.body:
            continue  # nothing in it can be wrong: any text is a name that is not known

        @settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
        @given(case=operation.as_strategy(generation_mode=mode))
        def held(case: schemathesis.Case[Any]) -> None:
            case.call_and_validate()

        held()
