"""The API's description as OpenAPI 3.1: FastAPI's own, with what its routes cannot say."""

from typing import Any, Final

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import BaseModel

from webapp.api.frame.ways import IF_MATCH, problem_responses

ABOUT: Final = (
    "The shop's own rules as JSON, and its papers as PDF. Lengths are in millimetres (or text such as 5/8 in), money "
    "is text, moments are ISO 8601 in UTC. A change of something that has a version needs If-Match with the ETag "
    "that was seen, or `version` in the body. A PATCH changes the fields that it gives, and no others. Any POST, PUT "
    "or PATCH may carry an Idempotency-Key: sent again within two days it gets the same answer and does nothing "
    "twice; an answer that holds a secret is kept nowhere and not given twice. What a key may do, its scopes say; "
    "what its person may not do, it may not do either."
)


class FieldProblem(BaseModel):
    """What is wrong with one field; null: with the whole."""

    field: str | None
    message: str


class ProblemShown(BaseModel):
    """Problem details, RFC 9457. `theirs`: what it says now, where someone else changed it."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[FieldProblem] = []
    theirs: dict[str, str] = {}


def describe(api: FastAPI, server: str) -> dict[str, Any]:
    """The whole document."""
    document = get_openapi(
        title="Flutebench", version="1", description=ABOUT, routes=api.routes, servers=[{"url": server}]
    )
    parts = document.setdefault("components", {})
    schemas = parts.setdefault("schemas", {})
    for unused in ("HTTPValidationError", "ValidationError"):
        schemas.pop(unused, None)
    problem = ProblemShown.model_json_schema(ref_template="#/components/schemas/{model}")
    schemas |= problem.pop("$defs") | {"Problem": problem | {"title": "Problem"}}
    parts["securitySchemes"] = {"key": {"type": "http", "scheme": "bearer", "description": "An API key."}}
    document["security"] = [{"key": []}]
    for path in document["paths"].values():
        for method, operation in path.items():
            _complete(schemas, method, operation)
    return document


def _complete(schemas: dict[str, Any], method: str, operation: dict[str, Any]) -> None:
    """What every operation of its kind answers: refusals of a change, and of one on an old version."""
    if method == "get":
        operation["responses"]["304"] = {"description": "As If-None-Match knows it."}
        return
    kinds = ["refused", "not-json"]
    content = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
    name = content.get("schema", {}).get("$ref", "").rpartition("/")[2]
    if "version" in schemas.get(name, {}).get("properties", {}):
        kinds += ["changed-meanwhile", "version-needed"]
        operation.setdefault("parameters", []).append(IF_MATCH)
        # It may stand in If-Match instead.
        schemas[name]["required"] = [one for one in schemas[name].get("required", []) if one != "version"]
    operation["responses"] |= {str(status): said for status, said in problem_responses(kinds).items()}
