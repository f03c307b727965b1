"""The supplier's service as an OpenAPI 3.1 document, from the types that its answers are read with.

`openapi.json` beside this file is that document; `python -m kitbuilder_http_supplier.openapi` prints it.
"""

from typing import Any

import msgspec

from kitbuilder_http_supplier import ordering
from kitbuilder_http_supplier.protocol import AnswerTold, Question

_DECIMAL = {"type": "string", "pattern": r"^[0-9]{1,12}(\.[0-9]{1,3})?$"}
#: Fields that hold amounts and money: to the types they are texts, which are judged with their unit or currency.
_AMOUNTS = ("fee", "minimum", "price", "per", "least", "pool", "most", "deposit", "quantity")


class Failure(msgspec.Struct, frozen=True):
    """What goes with a status that is none of success: one sentence for people."""

    error: str


def document() -> dict[str, Any]:
    """The whole document, as JSON has it."""
    (question, answer, failure), types = msgspec.json.schema_components(
        (Question, AnswerTold, Failure), ref_template="#/components/schemas/{name}")
    (order, taken), more = msgspec.json.schema_components(
        (ordering.OrderSent, ordering.AnswerTold), ref_template="#/components/schemas/Order{name}")
    types |= {f"Order{name}": schema for name, schema in more.items()}
    types["Question"]["properties"]["now"]["format"] = "date-time"
    for one in types.values():
        for name, field in one.get("properties", {}).items():
            _tell_amount(name, field)
    # a question may have more in it one day: suppliers take what they know
    failed = {"description": "Why it isn't answered.", "content": _json(failure)}
    told = {
        "description": "What there is of the items; offers that aren't there, the supplier doesn't have.",
        "headers": {
            "ETag": _header("Tells whether this answer has changed since (RFC 9110, 8.8.3)."),
            "Content-Location": _header("Where this answer can be had again, by GET (RFC 9110, 8.7)."),
            "Link": _header('Where the answer goes on: <address>; rel="next" (RFC 8288).')},
        "content": _json(answer)}
    failures = {
        "400": failed, "401": failed, "404": failed, "405": failed, "411": failed, "413": failed,
        "429": {**failed, "headers": {"Retry-After": _header("Seconds, or a date (RFC 9110, 10.2.3).")}},
        "500": failed,
        "503": {**failed, "headers": {"Retry-After": _header("Seconds, or a date (RFC 9110, 10.2.3).")}}}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Quotes for a workshop", "version": "1",
            "description": "What a supplier's service answers to kitbuilder's http-supplier. Amounts are decimals as "
                           "text, in the unit beside them; money is decimals as text in the answer's currency."},
        "paths": {
            "/quote": {"post": {
                "operationId": "quote", "summary": "What there is of some items, when, and at what price.",
                "requestBody": {"required": True, "content": _json(question)},
                "security": [{}, {"token": []}],
                "responses": {"200": {**told, "links": {"again": {
                    "operationId": "quoteAgain", "parameters": {
                        "answer": "$response.header.Content-Location#regex:/quote/([^?]+)"}}}}, **failures}}},
            "/quote/{answer}": {"get": {
                "operationId": "quoteAgain", "summary": "An answer again, and its further pages.",
                "description": "The address is the supplier's choice; it stands in Content-Location and Link.",
                "parameters": [
                    {"name": "answer", "in": "path", "required": True, "schema": {"type": "string", "minLength": 1}},
                    {"name": "page", "in": "query", "schema": {"type": "integer", "minimum": 1, "maximum": 999999}},
                    {"name": "If-None-Match", "in": "header", "schema": {"type": "string"}}],
                "security": [{}, {"token": []}],
                "responses": {"200": told, "304": {"description": "It is as it was."}, **failures}}},
            **_orders(order, taken, failures)},
        "components": {
            "schemas": dict(sorted(types.items())),
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}}}}


def _orders(order: dict[str, Any], taken: dict[str, Any], failures: dict[str, Any]) -> dict[str, Any]:
    """The paths of orders."""
    answered = {"description": "What became of the order.", "content": _json(taken)}
    reused = {"description": "The key was another order's.", "content": failures["400"]["content"]}
    return {
        "/orders": {"post": {
            "operationId": "order", "summary": "An order; one that comes again under its key is the same order.",
            "parameters": [{
                "name": "Idempotency-Key", "in": "header", "required": True,
                "schema": {"type": "string", "minLength": 1},
                "description": "The order's key in quotation marks; what isn't plain ASCII in it is percent-encoded."}],
            "requestBody": {"required": True, "content": _json(order)},
            "security": [{}, {"token": []}],
            "responses": {"200": answered, **failures, "422": reused}}},
        "/orders/{key}": {"get": {
            "operationId": "orderStatus", "summary": "What there is under an order's key; nothing is ordered by it.",
            "parameters": [
                {"name": "key", "in": "path", "required": True, "schema": {"type": "string", "minLength": 1}}],
            "security": [{}, {"token": []}],
            "responses": {"200": answered, **failures}}}}


def _tell_amount(name: str, field: dict[str, Any]) -> None:
    if name in _AMOUNTS:
        choices = field.get("anyOf", [field])
        for choice in choices:
            if choice.get("type") == "string":
                choice.update(_DECIMAL)
    elif name == "packs":
        field["items"] = dict(_DECIMAL)
    elif name == "currency":
        field["pattern"] = "^[A-Z]{3}$"


def _json(schema: dict[str, Any]) -> dict[str, Any]:
    return {"application/json": {"schema": schema}}


def _header(description: str) -> dict[str, Any]:
    return {"description": description, "schema": {"type": "string"}}


def text() -> str:
    """The document as it lies in the file."""
    return msgspec.json.format(msgspec.json.encode(document()), indent=2).decode() + "\n"


if __name__ == "__main__":
    print(text(), end="")
