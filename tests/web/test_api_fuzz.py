"""No request, however odd, ends in a 500, and every answer is one of the two published shapes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import schemathesis
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from tests.web.conftest import HOME, RIG

from sparewatt.web.app import create_app

READS = [
    "/api/worth",
    "/api/heap",
    "/api/match",
    "/api/scene",
    "/api/loads",
    "/api/guard",
    "/api/mend",
    "/api/bench",
    "/api/rig",
    "/api/demos",
]
PAGES = [
    "/",
    "/match",
    "/match/part",
    "/worth",
    "/loads",
    "/guard",
    "/heap",
    "/bench",
    "/bench/spin_open",
    "/bench/phone",
    "/bench/dummy",
    "/rig",
    "/files",
    "/files/gears.csv",
    "/files/room.svg",
    "/mend",
    "/mend/part",
    "/scene",
    "/scene/part",
    "/scene.csv",
]
WRITES = [
    "/bench/keep",
    "/bench/aside",
    "/bench/label",
    "/bench/list",
    "/bench/phone/keep",
    "/scene/keep",
    "/rig/keep",
    "/rig/fields",
    "/rig/raw",
    "/rig/undo",
    "/code",
]
NAMES = [
    "rider",
    "load",
    "gear",
    "effort",
    "cadence",
    "duration",
    "draws",
    "people",
    "try",
    "units",
    "room",
    "health",
    "wanted",
    "drawer",
    "key",
    "value",
    "quick",
    "name",
    "words",
    "holds",
    "start",
    "beside",
    "ride",
    "well",
    "readings",
    "well_until",
    "rows",
    "r1_cadence",
    "r1_volts",
    "r1_more",
    "r2_feel",
    "edit",
    "when",
    "more",
    "x",
]

near_misses = st.sampled_from(
    """100 W|0 W|-5 W|1e999 W|nan W|inf|2500 W|1/0 W|65 rpm|0 rpm|1e-9 rpm|2 h|0 s|864000 s|Lan|lamp|charge|42/18|42/|/||0
    |1|1000|1001|wide|narrow|both|inch|dark|machine.resistance = 0 ohm|machine.resistance = 1e300 ohm|load.0.kind = candle
    |stage.1.driven_diameter = 0.001 mm|stage.1.driven_diameter = 57 mm|stage.99.x = 1|battery.capacity = 1e-9 Ah|battery = x
    |converter+ = name = 'b'\nkind = 'buck'|converter+ = [|machine =|= =|name = |diode.kind = none|machine.kind = induction
    |rider.0.age = 1e9|at 5 s pull the plug|from rest; at 1 s switch the lamp on; at 2 s shift up|0 +1|0 x|add
    |99 +1|power|rest|riding along, for 3 s|at 5 s|kaboom
    |cadence 62, 11.4 V, 3.1 A, heavy|62|hard|by drill, 900 rpm, 12 V, nothing joined|-9 V|
    |words=at 2 s sprint""".replace("\n    |", "|").split("|")
)
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
FIELDS = [
    "seen",
    "back",
    "edit",
    "text",
    "code",
    "name",
    "query",
    "machine.resistance",
    "load.7.x",
    "..",
    "a.b",
]
KEYS = ["edits", "seen", "sentence", "plate", "a"]
WORDS = "a 10 W lamp phone and kettle fridge drill 24 V motor I am 34 fit children 12 Ah battery for 4 h every day . ,"
texts = st.one_of(near_misses, st.text(max_size=40))
queries = st.lists(st.tuples(st.sampled_from(NAMES), texts), max_size=6)
fuzzed = settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> FastAPI:
    """The app over the real tasks and a rig that the fuzzing may change."""
    place = tmp_path_factory.mktemp("fuzz")
    (place / "rig.toml").write_text(RIG, encoding="utf-8")
    return create_app(place, home=place / "home", hosts=["testserver"])


@pytest.fixture(scope="module")
def ask(app: FastAPI) -> Iterator[TestClient]:
    """A client that sees refusals as answers."""
    with TestClient(
        app, base_url=HOME, client=("127.0.0.1", 5), follow_redirects=False, raise_server_exceptions=False
    ) as one:
        yield one


@fuzzed
@given(path=st.sampled_from(READS), query=queries)
def test_no_question_breaks_the_api(ask: TestClient, path: str, query: list[tuple[str, str]]) -> None:
    """Every GET of the API gives an answer or the one problem body, as JSON without a number JSON has no word for."""
    reply = ask.get(path, params=query)
    assert reply.status_code in (200, 400, 404), (reply.status_code, reply.text[:300])
    body = reply.json()
    assert body["ok"] is (reply.status_code == 200)
    if body["ok"] and "section" in body:
        assert body["answer"]
    if not body["ok"]:
        assert body["problems"]
        assert all(
            p["problem"] and set(p) == {"where", "problem", "try", "read", "file", "line"}
            for p in body["problems"]
        )


@fuzzed
@given(path=st.sampled_from(PAGES), query=queries)
def test_no_address_breaks_a_page(ask: TestClient, path: str, query: list[tuple[str, str]]) -> None:
    """Every page opens or says what to put right."""
    reply = ask.get(path, params=query)
    assert reply.status_code in (200, 400, 404), (reply.status_code, reply.text[:300])


@fuzzed
@given(
    path=st.sampled_from(WRITES),
    form=st.lists(st.tuples(st.sampled_from(FIELDS), texts), max_size=5),
    known=st.booleans(),
)  # fmt: skip
def test_no_form_breaks_a_write(ask: TestClient, path: str, form: list[tuple[str, str]], known: bool) -> None:
    """Every write is done, refused with a reason, or a conflict; the file on disk always reads as a rig."""
    data = dict(form)
    if known:
        data["seen"] = ask.get("/api/rig").json()["seen"]
    reply = ask.post(path, data=data)
    assert reply.status_code in (303, 400, 401, 404, 409, 429, 503), (reply.status_code, reply.text[:300])
    assert ask.get("/api/guard").status_code == 200


@fuzzed
@given(
    body=st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | texts,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS) | texts, inner, max_size=3),
        max_leaves=8,
    ),
    path=st.sampled_from(["/api/edit", "/api/undo"]),
)  # fmt: skip
def test_no_json_breaks_a_write(ask: TestClient, body: object, path: str) -> None:
    """Any JSON at all is taken, or refused with the one body."""
    import json

    reply = ask.post(path, content=json.dumps(body), headers={"content-type": "application/json"})
    assert reply.status_code in (200, 400, 409), (reply.status_code, reply.text[:300])
    assert isinstance(reply.json()["ok"], bool)


@settings(fuzzed, max_examples=40)
@given(
    sentence=st.one_of(
        st.text(max_size=80), st.lists(st.sampled_from(WORDS.split()), max_size=14).map(" ".join)
    )
)
def test_no_sentence_breaks_the_start(tmp_path_factory: pytest.TempPathFactory, sentence: str) -> None:
    """Any sentence becomes a rig or a reason."""
    home: Path = tmp_path_factory.mktemp("start")
    with TestClient(
        create_app(None, home=home), base_url=HOME, client=("127.0.0.1", 5), raise_server_exceptions=False
    ) as one:
        reply = one.post("/start", data={"sentence": sentence}, follow_redirects=True)
        assert reply.status_code in (200, 400), (reply.status_code, reply.text[:300])


def test_the_schema_describes_every_route_of_the_api(app: FastAPI) -> None:
    """openapi.json lists each address under /api with its answer and its refusals, and no docs page loads from outside."""
    schema = app.openapi()
    assert set(READS) <= set(schema["paths"])
    assert all(path.startswith("/api/") for path in schema["paths"])
    for path, methods in schema["paths"].items():
        for about in methods.values():
            assert {"200", "400"} <= set(about["responses"]), path
    with TestClient(app, base_url=HOME, client=("127.0.0.1", 5)) as one:
        assert one.get("/openapi.json").status_code == 200
        for path in ("/docs", "/redoc"):
            assert one.get(path).status_code == 404


def test_the_published_schema_holds_under_fuzzing(app: FastAPI) -> None:
    """Driven from its own schema, every route answers with the declared status, type and shape."""
    schema = schemathesis.openapi.from_asgi("/openapi.json", app)
    driven = []
    for found in schema.get_all_operations():
        operation = found.ok()

        @settings(fuzzed, max_examples=20)
        @given(case=operation.as_strategy())
        def drive(case: schemathesis.Case) -> None:
            case.validate_response(case.call(), checks=CHECKS)

        drive()
        driven.append(operation.label)
    assert len(driven) >= len(READS) + 3
