"""The API's own description, and whether an answer is as it says (JSON Schema 2020-12, which OpenAPI 3.1 names)."""

import re
from functools import cache
from typing import Any

from jsonschema import Draft202012Validator
from jsonschema.protocols import Validator

from webapp.api.application import description


@cache
def _operations() -> list[tuple[str, re.Pattern[str], dict[str, Any]]]:
    found = []
    for path, ways in description()["paths"].items():
        parts = ["[^/]+" if part.startswith("{") else re.escape(part) for part in re.split(r"({\w+})", path) if part]
        found += [(method.upper(), re.compile("".join(parts)), operation) for method, operation in ways.items()]
    # An address without a part in braces is meant before one with.
    return sorted(found, key=lambda one: one[1].pattern.count("[^/]+"))


@cache
def _validator(method: str, pattern: str, status: int, kind: str) -> Validator | None:
    operation = next(op for m, found, op in _operations() if (m, found.pattern) == (method, pattern))
    assert str(status) in operation["responses"], f"{method} {pattern}: {status} is not described"
    content = operation["responses"][str(status)].get("content", {})
    if status == 304:
        return None
    assert kind in content, f"{method} {pattern}: {status} as {kind} is not described"
    schema = {**content[kind]["schema"], "components": description()["components"]}
    return Draft202012Validator(schema) if kind.endswith("json") else None


def assert_as_described(method: str, path: str, status: int, kind: str, body: Any) -> None:
    """That an answer has a status, a kind and fields that the description names; `body` gives its JSON."""
    path = path.partition("?")[0]
    pattern = next((p.pattern for m, p, _ in _operations() if m == method and p.fullmatch(path)), None)
    if pattern is None:
        assert status in (404, 405), f"{method} {path} is described nowhere"
        return
    if (validator := _validator(method, pattern, status, kind)) is not None:
        errors = [f"{error.json_path}: {error.message[:200]}" for error in validator.iter_errors(body())]
        assert not errors, (method, path, errors)
