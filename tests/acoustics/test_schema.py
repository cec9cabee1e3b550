"""The published schemas say what the commands take and give (JSON Schema 2020-12, by the library jsonschema)."""

import copy
import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from acoustics import documents
from acoustics.__main__ import COMMANDS, main
from acoustics.belief import corrections
from acoustics.designing import limits, request
from acoustics.flute import document
from acoustics.schema import EXAMPLES, schema, schemas
from acoustics.tuning import advise


@pytest.mark.parametrize("command", COMMANDS)
def test_the_example_is_taken_and_its_answer_is_as_described(command: str) -> None:
    told = schema(command)
    for part in told.values():
        Draft202012Validator.check_schema(part)
    Draft202012Validator(told["input"]).validate(EXAMPLES[command])
    answer = json.loads(json.dumps(COMMANDS[command](copy.deepcopy(EXAMPLES[command]))))
    Draft202012Validator(told["output"]).validate(answer)
    wrong = EXAMPLES[command] | {"colour": "red"}
    assert not Draft202012Validator(told["input"]).is_valid(wrong)
    assert not Draft202012Validator(told["output"]).is_valid(answer | {"colour": "red"})


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        (documents.InstrumentDocument, document._PARTS),
        (documents.DesignIn, request._FIELDS),
        (documents.LimitsIn, limits._FIELDS),
        (documents.AdviseIn, advise._FIELDS),
        (documents.ShopIn, corrections._FIELDS),
    ],
)
def test_the_types_have_the_fields_that_the_readers_know(kind: Any, fields: tuple[str, ...]) -> None:
    assert kind.__annotations__.keys() == set(fields)


def test_the_command_line_prints_them(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out) == schemas()
    assert main(["schema", "predict"]) == 0
    assert json.loads(capsys.readouterr().out) == schema("predict")
    assert main(["schema", "dance"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize("command", COMMANDS)
def test_help_describes_each_field_with_an_example(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, "--help"]) == 0
    said = capsys.readouterr().out
    told = schema(command)["input"]
    parts = [told, *(told["$defs"][one["$ref"].rpartition("/")[2]] for one in told.get("anyOf", []))]
    for name in {name for part in parts for name in part.get("properties", {})}:
        assert f"{name}" in said
    start = said.index("{")
    assert json.JSONDecoder().raw_decode(said[start:])[0] == EXAMPLES[command]


def test_version_and_an_unknown_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("acoustics ")
    assert main(["dance"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert main(["listen", "--help"]) == 0
    assert "--swell" in capsys.readouterr().out
