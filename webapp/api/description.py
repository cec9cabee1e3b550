"""The API's description as OpenAPI 3.1, made from the ways themselves: what is served is what is described."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

import sqlalchemy as sa
from pydantic import BaseModel
from pydantic.json_schema import models_json_schema
from sqlmodel import SQLModel

from webapp.api.problems import KINDS
from webapp.api.ways import JSON, PDF, Way
from webapp.shop.exchange.exporting import columns
from webapp.shop.people import tokens

REF: Final = "#/components/schemas/"
_BYTES: Final = {"type": "string", "format": "binary"}
_ABOUT = (
    "The shop's own rules as JSON, and its papers as PDF. Lengths are in millimetres (or text such as 5/8 in), money "
    "is text, moments are ISO 8601 in UTC. A change of something that has a version needs If-Match with the ETag "
    "that was seen, or `version` in the body. Any POST, PUT or PATCH may carry an Idempotency-Key: sent again "
    "within two days it gets the same answer and does nothing twice; an answer that holds a secret is kept nowhere "
    "and not given twice. What a key may do, its scopes say; what its person may not do, it may not do either."
)


def openapi(ways: Sequence[Way], server: str) -> dict[str, Any]:
    """The whole document."""
    models = {way.model for way in ways if way.model is not None}
    refs, asked = models_json_schema(
        [(model, "validation") for model in sorted(models, key=_name)], ref_template=REF + "{model}"
    )
    schemas: dict[str, Any] = dict(asked.get("$defs", {}))
    for way in ways:
        if way.shows and way.shows in SQLModel.metadata.tables:
            schemas[f"row_{way.shows}"] = _row(SQLModel.metadata.tables[way.shows])
    schemas["problem"] = _problem()
    paths: dict[str, dict[str, Any]] = {}
    for way in ways:
        paths.setdefault(_path(way), {})[way.method.lower()] = _operation(
            way, refs.get((way.model, "validation")) if way.model else None
        )
    return {
        "openapi": "3.1.0",
        "info": {"title": "Flutebench", "version": "1", "description": _ABOUT},
        "servers": [{"url": server}],
        "security": [{"key": []}],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "securitySchemes": {"key": {"type": "http", "scheme": "bearer", "description": "A key for programs."}},
        },
    }


def _name(model: type[BaseModel]) -> str:
    return f"{model.__module__}.{model.__name__}"


def _path(way: Way) -> str:
    return way.path.replace(":int}", "}")


def _operation(way: Way, asked: Any) -> dict[str, Any]:
    parameters: list[dict[str, Any]] = []
    for name, whole in way.parts:
        schema = {"type": "integer" if whole else "string"}
        parameters.append({"name": name, "in": "path", "required": True, "schema": schema})
    paged = way.listed and {"show", "status", "q"} & set(way.query)
    query = way.query | ({"page": "the page, from 1"} if paged else {})
    for name, words in query.items():
        parameters.append({"name": name, "in": "query", "description": words, "schema": {"type": "string"}})
    operation: dict[str, Any] = {
        "operationId": way.name,
        "summary": way.summary,
        "tags": [way.tag],
        "description": f"Needs the scope '{way.scope}'.",
        "security": [{"key": [str(way.scope)]}],
        "responses": _responses(way),
    }
    if way.method != "GET":
        parameters.append(_header("Idempotency-Key", "A key of your own for this request."))
    if way.versioned:
        parameters.append(_header("If-Match", "The ETag that was seen, instead of `version` in the body."))
    if way.marked:
        parameters.append(_header("If-Match", "The ETag that was seen."))
    if asked is not None:
        operation["requestBody"] = {"required": True, "content": {"application/json": {"schema": asked}}}
    if way.takes:
        operation["requestBody"] = {"required": True, "content": {kind: {"schema": _BYTES} for kind in way.takes}}
    if parameters:
        operation["parameters"] = parameters
    return operation


def _header(name: str, words: str) -> dict[str, Any]:
    return {"name": name, "in": "header", "description": words, "schema": {"type": "string"}}


def _responses(way: Way) -> dict[str, Any]:
    one: dict[str, Any] = {"type": "object"}
    if way.shows in SQLModel.metadata.tables:
        one = {"$ref": f"{REF}row_{way.shows}"}
    shown = {"type": "object", "properties": {"items": {"type": "array", "items": one}}} if way.listed else one
    said = "Done. The answer holds a secret and is not given twice." if way.secret else "Done."
    content = {way.gives: {"schema": shown if way.gives == JSON else _BYTES}}
    found: dict[str, Any] = {"2XX": {"description": said, "content": content}}
    kinds = ["no-key", "not-allowed", "not-found"]
    kinds += ["refused", "not-json"] if way.method != "GET" else []
    kinds += ["refused", "busy"] if way.gives == PDF else []
    kinds += ["too-large"] if way.takes else []
    kinds += ["invalid"] if way.method != "GET" or way.query else []
    kinds += ["changed-meanwhile", "version-needed"] if way.versioned or way.marked else []
    for kind in dict.fromkeys(kinds):
        status, title = KINDS[kind]
        content = {"application/problem+json": {"schema": {"$ref": REF + "problem"}}}
        found[str(status)] = {"description": title, "content": content}
    return found


def _row(table: sa.Table) -> dict[str, Any]:
    return {
        "type": "object",
        "description": f"A row of {table.name.replace('_', ' ')}, and what is shown beside it.",
        "properties": {column.name: _type(column) for column in columns(table)},
        "additionalProperties": True,
    }


def _type(column: sa.Column[Any]) -> dict[str, Any]:
    if isinstance(column.type, sa.JSON):
        return {}
    if isinstance(column.type, sa.Enum):
        words: list[str | None] = list(column.type.enums)
        return (
            {"type": ["string", "null"], "enum": [*words, None]}
            if column.nullable
            else {"type": "string", "enum": words}
        )
    try:
        kind = column.type.python_type
    except NotImplementedError:
        kind = str
    kinds: dict[type, dict[str, Any]] = {
        bool: {"type": "boolean"},
        int: {"type": "integer"},
        float: {"type": "number"},
        Decimal: {"type": "string", "format": "decimal"},
        datetime: {"type": "string", "format": "date-time"},
        date: {"type": "string", "format": "date"},
    }
    found = dict(kinds.get(kind, {"type": "string"}))
    if column.nullable:
        found["type"] = [found["type"], "null"]
    return found


def _problem() -> dict[str, Any]:
    field = {"type": "object", "properties": {"field": {"type": ["string", "null"]}, "message": {"type": "string"}}}
    return {
        "type": "object",
        "description": "Problem details, RFC 9457.",
        "properties": {
            "type": {"type": "string"},
            "title": {"type": "string"},
            "status": {"type": "integer"},
            "detail": {"type": "string"},
            "errors": {"type": "array", "items": field},
            "theirs": {"type": "object", "description": "What it says now, where someone else changed it."},
        },
        "required": ["type", "title", "status", "detail"],
    }


def scopes() -> dict[str, str]:
    """The scopes and what each allows."""
    return {str(scope): words for scope, words in tokens.WORDS.items()}
