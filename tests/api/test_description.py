"""The API's description as others read it: valid OpenAPI 3.1, and enough for a generated client to do a whole order."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from webapp.api.application import WAYS, description

# The keywords of JSON Schema 2020-12 (json-schema.org, core, applicator, validation, meta-data, format, content) and
# those that OpenAPI 3.1.0 adds to them (4.8.24, Schema Object).
KEYWORDS = set(
    "$ref $defs $comment allOf anyOf oneOf not if then else dependentSchemas prefixItems items contains properties "  # noqa: SIM905
    "patternProperties additionalProperties propertyNames unevaluatedItems unevaluatedProperties type enum const "
    "multipleOf maximum exclusiveMaximum minimum exclusiveMinimum maxLength minLength pattern maxItems minItems "
    "uniqueItems maxContains minContains maxProperties minProperties required dependentRequired title description "
    "default deprecated readOnly writeOnly examples format contentEncoding contentMediaType contentSchema "
    "discriminator xml externalDocs example".split()
)


def schemas(found: Any) -> Iterator[dict[str, Any]]:
    """Every schema within a schema, itself among them."""
    if not isinstance(found, dict):
        return
    yield found
    for name in ("properties", "patternProperties", "$defs", "dependentSchemas"):
        for one in found.get(name, {}).values():
            yield from schemas(one)
    for name in ("allOf", "anyOf", "oneOf", "prefixItems"):
        for one in found.get(name, []):
            yield from schemas(one)
    for name in ("items", "additionalProperties", "not", "contains", "propertyNames"):
        yield from schemas(found.get(name))


def operations() -> list[tuple[str, str, dict[str, Any]]]:
    return [(m, path, op) for path, ways in description()["paths"].items() for m, op in ways.items()]


def every_schema() -> Iterator[dict[str, Any]]:
    for one in description()["components"]["schemas"].values():
        yield from schemas(one)
    for _, _, operation in operations():
        for parameter in operation.get("parameters", []):
            yield from schemas(parameter["schema"])
        contents = [operation.get("requestBody", {}), *operation["responses"].values()]
        for content in contents:
            for one in content.get("content", {}).values():
                yield from schemas(one["schema"])


def test_it_is_valid() -> None:
    """By openapi-spec-validator; its schemas by JSON Schema 2020-12 too, with no keyword that names nothing."""
    assert not [str(error) for error in OpenAPIV31SpecValidator(description()).iter_errors()]
    unknown = set()
    for one in every_schema():
        Draft202012Validator.check_schema(one)
        unknown |= {name for name in one if name not in KEYWORDS and not name.startswith("x-")}
    assert not unknown


def test_every_operation_says_what_it_answers() -> None:
    assert len(operations()) == len(WAYS)
    for method, path, operation in operations():
        done = {status: said for status, said in operation["responses"].items() if status.startswith("2")}
        assert len(done) == 1 and set(done) <= {"200", "201"}, (method, path, set(done))
        [(kind, content)] = next(iter(done.values()))["content"].items()
        schema = content["schema"]
        if kind == "application/json":
            assert "$ref" in schema or schema.get("additionalProperties"), (method, path, schema)
        else:
            assert schema == ({"type": "string"} if kind == "text/csv" else {"type": "string", "format": "binary"})


def test_names_are_unique_and_plain() -> None:
    """Two schemas of one name swallow an operation of a generated client."""
    names = list(description()["components"]["schemas"])
    assert all(re.fullmatch(r"[A-Za-z]+", name) for name in names), names
    assert len({name.casefold() for name in names}) == len(names)
    ids = [operation["operationId"] for _, _, operation in operations()]
    assert len(set(ids)) == len(ids)


@pytest.mark.parametrize("name", ["OrderShown", "BlankShown", "PriceShown", "LotWhole", "FoundShown"])
def test_an_answer_names_its_fields(name: str) -> None:
    shown = description()["components"]["schemas"][name]
    assert shown["additionalProperties"] is False and len(shown["properties"]) > 5


def test_the_engines_own_documents_are_described_beside_it(stranger: TestClient) -> None:
    from acoustics.schema import schemas

    answer = stranger.get("/api/v1/engine.json")
    assert answer.status_code == 200 and answer.json() == schemas()
