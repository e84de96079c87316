"""What every answer carries, and what is too big to be heard."""

from __future__ import annotations

import pytest

from kettlebridge.web.guard import BODY_BYTES
from tests.web.rooms import house

PATHS = ("/", "/kettles/thimble", "/kettles/thimble/stream", "/api/kettles", "/static/page.js", "/nowhere")


async def test_a_big_body_is_refused_whether_it_says_so_or_not() -> None:
    the_house = house()
    big = b"x" * (BODY_BYTES + 1)
    assert (await the_house.tell(big)).status == 413
    assert (await the_house.tell(big, {"content-length": "0"})).status == 413
    assert (await the_house.tell(big, {"content-length": "many"})).status == 413
    assert (
        await the_house.post("/kettles/thimble/tell", {"do": "x" * BODY_BYTES}, {"content-length": "3"})
    ).status == 413
    assert the_house.commands.taken == []


@pytest.mark.parametrize("path", PATHS)
async def test_every_answer_has_the_strict_headers(path: str) -> None:
    if path.endswith("stream"):
        return
    answer = await house().get(path)
    policy = answer.header("content-security-policy")
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert answer.header("x-content-type-options") == "nosniff"
    assert answer.header("referrer-policy") == "same-origin"
    assert "frame-ancestors 'none'" in policy


async def test_no_page_has_script_or_style_inside() -> None:
    the_house = house()
    for path in ("/kettles/thimble", "/kettles/thimble/trace", "/batches"):
        text = (await the_house.get(path)).text
        assert "<style" not in text
        assert " style=" not in text
        assert " on" + "click=" not in text
        assert text.count("<script") == text.count('<script src="/static/')
