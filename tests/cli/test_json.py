"""JSON answers: valid by the schema of their type, and with exactly the keys of the kit rules."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
from jsonschema import Draft202012Validator

from kitbuilder.kit.why import Why
from kitbuilder.model.kit import Kit
from kitbuilder.model.listing import Compiled, JobsListed, PluginsListed, SourcesListed
from kitbuilder.proof.check import Check
from kitbuilder.proof.compare import Compare
from tests.cli.running import run

FAULTY = ("--catalogue", "catalogue-with-a-fault")
ANSWERS: dict[str, tuple[type[msgspec.Struct], tuple[str, ...]]] = {
    "jobs": (JobsListed, ("jobs",)),
    "kit": (Kit, ("kit", "actuator-replace", "--vehicle", "DEMO 005")),
    "kit with a problem": (Kit, ("kit", "exhaust-joint-renew", *FAULTY)),
    "kit with stock": (Kit, ("kit", "actuator-replace", "--vehicle", "DEMO 001", "--source")),
    "why": (Why, ("why", "actuator-replace", "EL-30115")),
    "why with a problem": (Why, ("why", "exhaust-joint-renew", "exhaust-clamp", *FAULTY)),
    "check": (Check, ("catalogue", "check")),
    "check with a fault": (Check, ("catalogue", "check", *FAULTY)),
    "compare": (Compare, ("catalogue", "compare", "catalogue", "catalogue-with-a-fault")),
    "compile": (Compiled, ("catalogue", "compile")),
    "sources": (SourcesListed, ("sources",)),
    "plugins": (PluginsListed, ("plugins",)),
}


def answer(folder: Path, name: str) -> Any:
    return json.loads(run(folder, *ANSWERS[name][1], "--json").out)


def validator(of: type[msgspec.Struct]) -> Draft202012Validator:
    schema = msgspec.json.schema(of)
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


@pytest.mark.parametrize("name", ANSWERS)
def test_every_answer_is_valid_by_the_schema_of_its_type(workshop: Path, name: str) -> None:
    assert [error.message for error in validator(ANSWERS[name][0]).iter_errors(answer(workshop, name))] == []


def spoilt(value: Any) -> Iterator[tuple[str, Any]]:
    """Spoilt copies of an answer: each key of its top and of the first thing in each of its lists left out, or odd."""
    for key in value:
        yield f"without {key}", {name: one for name, one in value.items() if name != key}
        yield f"{key} odd", value | {key: {"odd": [{}]} if isinstance(value[key], list) else [None]}
        if isinstance(value[key], list) and value[key] and isinstance(value[key][0], dict):
            first, *rest = value[key]
            for inner in first:
                without = {name: one for name, one in first.items() if name != inner}
                yield f"{key} without {inner}", value | {key: [without, *rest]}


@pytest.mark.parametrize("name", ANSWERS)
def test_the_schema_refuses_what_is_spoilt(workshop: Path, name: str) -> None:
    check = validator(ANSWERS[name][0])
    optional = {"lines without stock", "lines without short"}
    optional |= {f"without {key}" for key in KIT_BESIDE} | {f"lines without {key}" for key in BESIDE}
    optional |= {f"{of} without {key}" for of in ("comes_off", "exchange") for key in (
        "role", "findings", "advised", "amount", "unit", "arrives", "circuit", "note", "days", "deposit", "currency")}
    # what a remark is about, where it is about nothing of the kind
    optional |= {f"remarks without {key}" for key in ("rows", "job", "role", "item", "when")}
    passed = [how for how, one in spoilt(answer(workshop, name)) if check.is_valid(one)]
    assert set(passed) <= optional


def test_the_format_is_part_of_the_schema(workshop: Path) -> None:
    kit = answer(workshop, "kit")
    assert not validator(Kit).is_valid(kit | {"format": "kitbuilder.kit/2"})
    assert not validator(Kit).is_valid(kit | {"complete": "yes"})


PROBLEM = {"kind", "role", "circuit", "certainty", "hangs_on", "when", "witness", "rows", "text"}
LINE = {
    "stage",
    "role",
    "title",
    "item",
    "requirement",
    "name",
    "amount",
    "unit",
    "sort",
    "certainty",
    "hangs_on",
    "when",
    "finding",
    "chance",
    "acceptable",
    "because",
}
#: What a line says beside, where there is something to say.
BESIDE = {"fill", "least", "select", "advised", "weight", "ports"}
KIT_BESIDE = {"comes_off", "hazards", "exchange"}
STOCK = {"source", "item", "quantity", "ready", "price", "per", "currency", "state", "age_s", "error"}


def keys_of(things: list[dict[str, Any]]) -> set[str]:
    """The keys of things that all have the same, and of which there are some."""
    assert things
    assert all(thing.keys() == things[0].keys() for thing in things)
    return set(things[0])


def without(things: list[dict[str, Any]], keys: set[str]) -> list[dict[str, Any]]:
    """The same without some keys."""
    return [{key: value for key, value in thing.items() if key not in keys} for thing in things]


def test_a_kit_has_exactly_the_keys_of_the_rules(workshop: Path) -> None:
    kit = answer(workshop, "kit")
    assert kit["format"] == "kitbuilder.kit/1"
    assert kit.keys() - KIT_BESIDE == {
        "format",
        "warnings",
        "job",
        "edition",
        "fingerprint",
        "complete",
        "facts",
        "lines",
        "nothing",
        "questions",
        "cautions",
        "problems",
    }
    assert keys_of(kit["facts"]) == {"fact", "values", "source"}
    assert keys_of(without(kit["lines"], BESIDE)) == LINE
    assert keys_of(kit["nothing"]) == {"stage", "role", "title", "certainty", "hangs_on", "when", "because"}
    assert keys_of(kit["questions"]) == {"fact", "question", "where", "answers"}
    assert keys_of(kit["cautions"]) == {"name", "text"}
    reasons = [reason for line in kit["lines"] for reason in line["because"]]
    assert keys_of(reasons) == {"file", "row", "note", "conditions"}
    conditions = [condition for reason in reasons for condition in reason["conditions"]]
    assert keys_of(conditions) == {"fact", "cell", "known", "source"}
    assert {one["source"] for one in kit["facts"]} == {"register", "inferred", "open"}
    assert {line["certainty"] for line in kit["lines"]} == {"certain", "possible"}


def test_a_problem_has_exactly_the_keys_of_the_rules(workshop: Path) -> None:
    kit = answer(workshop, "kit with a problem")
    assert keys_of(kit["problems"]) == PROBLEM
    assert kit["problems"][0]["witness"]["emissions"] == "Euro VI"


def test_with_sources_a_line_has_stock_and_short_too(workshop: Path) -> None:
    kit = answer(workshop, "kit with stock")
    assert keys_of(without(kit["lines"], BESIDE)) == LINE | {"stock", "short"}
    assert keys_of([row for line in kit["lines"] for row in line["stock"]]) == STOCK


def test_jobs_have_the_keys_of_the_rules(workshop: Path) -> None:
    jobs = answer(workshop, "jobs")
    assert {"format", "warnings", "jobs", "facts"} <= jobs.keys()
    assert keys_of(jobs["jobs"]) == {"name", "title", "goal"}
    assert keys_of(jobs["facts"]) == {"name", "of", "values", "groups", "question", "where"}


def test_a_check_has_the_keys_of_the_rules(workshop: Path) -> None:
    check = answer(workshop, "check with a fault")
    assert {"format", "warnings", "problems", "remarks", "otherwise"} <= check.keys()
    assert keys_of(check["otherwise"]) == {"job", "role", "row", "certainty", "hangs_on", "when", "text"}
    assert keys_of(check["problems"]) == PROBLEM | {"job"}
    assert keys_of([row for problem in check["remarks"] for row in problem["rows"]] or [{"file": "", "row": 0}]) == {
        "file",
        "row",
    }
    assert answer(workshop, "check")["problems"] == []


def test_why_tells_rows_and_how_their_conditions_stand(workshop: Path) -> None:
    why = answer(workshop, "why")
    assert keys_of(without(why["lines"], BESIDE)) == LINE
    assert keys_of(why["rows"]) == {
        "file",
        "row",
        "note",
        "role",
        "item",
        "requirement",
        "finding",
        "otherwise",
        "through",
        "applies",
        "conditions",
    }
    tested = [condition for row in why["rows"] for condition in row["conditions"]]
    assert keys_of(tested) == {"fact", "cell", "known", "source", "holds"}


def test_amounts_and_chances_are_decimal_strings(workshop: Path) -> None:
    for line in answer(workshop, "kit")["lines"]:
        for text in (line["amount"], line["chance"]):
            assert isinstance(text, str)
            assert float(text) >= 0
            assert "e" not in text
            assert not ("." in text and text.endswith("0"))
