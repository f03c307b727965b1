"""The published OpenAPI document: it is what the code reads and sends, the reference server keeps to it under
schemathesis, and the plug-in survives every answer that it allows, and any that it doesn't."""

import json
from datetime import UTC, datetime
from pathlib import Path

import jsonschema
import kitbuilder_http_supplier
import pytest
import schemathesis
import schemathesis.specs.openapi.checks as judges
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from kitbuilder_http_supplier import openapi
from kitbuilder_http_supplier.protocol import question, read_answer

from kitbuilder import Quote, QuoteRequest, SourceFailed, Wanted
from kitbuilder.demo.supplier import DemoSupplier
from kitbuilder.stock.seam import checked
from tests.plugins.http_servers import ANSWER, answer, serving
from tests.plugins.test_http_supplier import ANSWERED, ASKED

PUBLISHED = Path(kitbuilder_http_supplier.__file__).with_name("openapi.json")
DOCUMENT = json.loads(PUBLISHED.read_text("utf-8"))
NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
REQUEST = QuoteRequest((Wanted("W-1", "each"), Wanted("O-1", "L", ("00012345600012",))), NOW)
PRICES = """\
item,quantity,unit,slot,ready,cut_off,fee,minimum,sureness,most,from,price,per,packs,least,returnable,deposit,currency,as_of
W-1,400,each,van,2026-03-11T08:00:00Z,2099-03-10T17:00:00Z,6.50,25.00,,,,4.20,100,50 100,50,,,EUR,2026-03-10T14:30:00Z
W-1,,each,counter,2026-03-10T16:00:00Z,,,,on the shelf,30,,5.00,100,,,,,EUR,2026-03-10T14:30:00Z
O-1,any,L,van,2026-03-11T08:00:00Z,2099-03-10T17:00:00Z,6.50,25.00,promised,,,,,,,no,,EUR,2026-03-10T09:30:00Z
"""


def schema_of(name: str) -> dict[str, object]:
    return {"$ref": f"#/components/schemas/{name}", "components": DOCUMENT["components"]}


ANSWERS = schema_of("AnswerTold")


def test_the_published_document_is_that_of_the_code():
    assert PUBLISHED.read_text("utf-8") == openapi.text(), (
        "write it anew: cd plugins && python -m kitbuilder_http_supplier.openapi > "
        "kitbuilder_http_supplier/openapi.json")


def test_its_schemas_are_schemas_and_it_says_which_version_it_is():
    assert DOCUMENT["openapi"] == "3.1.0"
    for schema in DOCUMENT["components"]["schemas"].values():
        jsonschema.Draft202012Validator.check_schema(schema)


def test_the_documented_question_and_answer_are_as_it_says():
    jsonschema.validate(ASKED, schema_of("Question"))
    jsonschema.validate(ANSWERED, ANSWERS)
    jsonschema.validate(json.loads(question(REQUEST, "EUR")), schema_of("Question"))
    for wrong in ({**ANSWERED, "currency": "euro"}, {**ANSWERED, "surprise": 1}, {"format": "kitbuilder.quote/1"}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, ANSWERS)


@pytest.fixture(scope="module")
def api(tmp_path_factory):
    """The reference server as schemathesis sees it."""
    file = tmp_path_factory.mktemp("prices") / "prices.csv"
    file.write_text(PRICES)
    with DemoSupplier(file, page=1) as supplier:
        schema = schemathesis.openapi.from_dict(DOCUMENT)
        schema.config.update(base_url=supplier.url)
        yield schema


#: It takes more than the document says that it must (other headers, a question with less in it).
CHECKS = [
    schemathesis.checks.not_a_server_error, judges.status_code_conformance,
    judges.content_type_conformance, judges.response_headers_conformance,
    judges.response_schema_conformance]


PLACES = [("POST", "/quote"), ("GET", "/quote/{answer}"), ("POST", "/orders"), ("GET", "/orders/{key}")]


@pytest.mark.parametrize("place,mode", [
    *((place, schemathesis.GenerationMode.POSITIVE) for place in PLACES),
    # any text is a key, so that no question for one can be wrong
    *((place, schemathesis.GenerationMode.NEGATIVE) for place in PLACES[:3])], ids=str)
def test_the_reference_server_keeps_to_it(api, place, mode):
    [operation] = [one.ok() for one in api.get_all_operations()
                   if (one.ok().method.upper(), one.ok().path) == place]

    @given(operation.as_strategy(generation_mode=mode))
    @settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    def fuzzed(case):
        case.call_and_validate(checks=CHECKS)

    fuzzed()


def test_all_operations_are_fuzzed_and_what_breaks_the_document_is_found(api):
    assert sum(1 for _ in api.get_all_operations()) == len(PLACES)
    operation = api["/quote"]["POST"]
    case = operation.Case(body=ASKED, media_type="application/json")
    case.call_and_validate(checks=CHECKS)
    for wrong in (answer("500 Oh", b"{}"), answer("418 Teapot", b'{"error": "no"}'), answer(kind="text/plain"),
                  answer(body=ANSWER.replace(b'"EUR"', b"7"))):
        with serving(wrong) as server, pytest.raises(schemathesis.errors.FailureGroup):
            case.call_and_validate(base_url=server.url, checks=CHECKS)


def read(*bodies: bytes) -> Quote | None:
    """What the plug-in makes of pages: a sound quote, or one sentence."""
    try:
        return checked(read_answer(bodies, REQUEST, "EUR", "parts.example"), REQUEST)
    except SourceFailed as failed:
        assert "\n" not in str(failed)
        assert str(failed).startswith(("parts.example ", "it "))
        return None


def answers() -> "st.SearchStrategy[schemathesis.Case]":
    """Answers as the document allows them: what a service would be sent that takes them."""
    document = {**DOCUMENT, "paths": {"/": {"post": {
        "requestBody": {"required": True, "content": {"application/json": {
            "schema": {"$ref": "#/components/schemas/AnswerTold"}}}},
        "responses": {"200": {"description": "taken"}}}}}}
    operation = schemathesis.openapi.from_dict(document)["/"]["POST"]
    return operation.as_strategy(generation_mode=schemathesis.GenerationMode.POSITIVE)


@given(answers())
@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_answer_that_it_allows_is_a_quote_or_a_sentence(case):
    jsonschema.validate(case.body, ANSWERS)
    read(json.dumps(case.body).encode())


NAMES = st.sampled_from(["van", "counter"])
DECIMALS = st.sampled_from(["0", "1", "2.5", "0.001", "999999999999.999", "0.0", "100"])
ARRIVALS = st.lists(st.fixed_dictionaries(
    {"slot": NAMES, "sureness": st.sampled_from(["promised", "confirmed"]),
     "prices": st.lists(st.fixed_dictionaries({"price": DECIMALS, "per": DECIMALS, "least": DECIMALS}), max_size=2)},
    optional={"most": DECIMALS | st.none()}), min_size=1, max_size=2)
OFFERS = st.lists(st.fixed_dictionaries(
    {"item": st.sampled_from(["W-1", "O-1"]), "unit": st.sampled_from(["each", "L", "mL", "barrel"]),
     "pool": DECIMALS | st.none(), "returnable": st.booleans(), "arrivals": ARRIVALS},
    optional={"packs": st.lists(DECIMALS, max_size=2), "least": DECIMALS, "deposit": DECIMALS,
              "lot": st.sampled_from(["", "B-7"])}), max_size=3)
CLOSE = st.fixed_dictionaries({
    "format": st.just("kitbuilder.quote/1"), "as_of": st.just("2026-03-10T14:30:00Z"), "currency": st.just("EUR"),
    "slots": st.just([{"name": name, "ready": "2026-03-11T08:00:00Z", "cut_off": None} for name in ("van", "counter")]),
    "offers": OFFERS, "unreadable": st.dictionaries(st.sampled_from(["W-1", "X-9"]), st.text(max_size=5), max_size=1)})


@given(CLOSE, CLOSE)
@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
def test_answers_close_to_sound_lose_no_item(told, other):
    jsonschema.validate(told, ANSWERS)
    quote = read(json.dumps(told).encode())
    if quote is not None:
        known = {offer.item for offer in quote.offers} | set(quote.unreadable)
        assert {offer["item"] for offer in told["offers"]} <= known
        assert all(quote.unreadable.values())
    read(json.dumps(told).encode(), json.dumps(other).encode())


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(
        st.sampled_from([*ANSWERED, "item", "arrivals", "slot", "name"]), inner, max_size=6), max_leaves=20)


@given(JSON | CLOSE.flatmap(lambda told: st.sampled_from(sorted(told)).flatmap(
    lambda key: JSON.map(lambda value: {**told, key: value}))))
@settings(max_examples=200, deadline=None)
def test_any_other_json_is_a_sentence(told):
    read(json.dumps(told).encode())


@given(st.binary(max_size=200))
@settings(max_examples=100, deadline=None)
def test_any_bytes_are_a_sentence(data):
    assert read(data) is None
