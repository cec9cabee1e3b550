"""The command line: exit status, one line on standard error, JSON on standard output."""

import io
import json
import sys

import pytest

from acoustics.__main__ import main
from tests.acoustics.model.test_air import cramer

FLUTE = {
    "bore": [[-8, 16], [292, 16]],
    "body": {"outside": "round", "wall": 5},
    "window": {"length": 5, "width": 10},
    "holes": [{"x": 130 + 24 * i, "diameter": 7} for i in range(6)],
}


def run(monkeypatch, capsys, command: str, text: str) -> tuple[int, str, str]:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text.encode())))
    status = main([command])
    out, err = capsys.readouterr()
    return status, out, err


def test_predict_answers_with_note_and_cents(monkeypatch, capsys):
    status, out, err = run(monkeypatch, capsys, "predict", json.dumps({"instrument": FLUTE, "fingerings": ["xxxxxx"]}))
    answer = json.loads(out)
    assert (status, err) == (0, "")
    assert answer["notes"][0]["fingering"] == "xxxxxx"
    assert len(answer["notes"][0]["modes"]) == 2
    assert answer["notes"][0]["note"][0] in "ABCDEFG"
    assert abs(answer["notes"][0]["cents"]) <= 50
    # A played flute: 24 C, 90 % humidity, 3 % of carbon dioxide, beyond the 1 % for which Cramer states 300 ppm.
    assert answer["air"]["speed_of_sound"] == pytest.approx(cramer(24.0, 0.9, 0.03), rel=3e-4)


def test_predict_without_fingerings_uses_the_standard_chart(monkeypatch, capsys):
    status, out, _ = run(monkeypatch, capsys, "predict", json.dumps({"instrument": FLUTE}))
    notes = json.loads(out)["notes"]
    assert status == 0
    assert notes[0]["fingering"] == "xxxxxx"
    assert len(notes) >= 6


def test_a_file_may_be_named(tmp_path, capsys):
    path = tmp_path / "air.json"
    path.write_text('{"temperature": 20}')
    assert main(["air", str(path)]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["speed_of_sound"]["source"]
    assert 340 < answer["speed_of_sound"]["value"] < 346


@pytest.mark.parametrize(
    ("command", "text", "field"),
    [
        ("predict", "{", "document"),
        ("predict", "[" * 100000, "document"),
        ("predict", "[]", "document"),
        ("predict", "{}", "instrument"),
        ("predict", json.dumps({"instrument": FLUTE, "modes": "two"}), "modes"),
        ("predict", json.dumps({"instrument": FLUTE, "losses": 1}), "losses"),
        ("predict", json.dumps({"instrument": FLUTE, "fingerings": "xxxxxx"}), "fingerings"),
        ("predict", json.dumps({"instrument": FLUTE, "fingering": []}), "fingering"),
        ("predict", '{"instrument": 1, "instrument": 2}', "instrument"),
        ("air", '{"temperature": NaN}', "air.temperature"),
        ("air", '{"temperature": 1e999}', "air.temperature"),
        ("air", '{"temperature": null}', "air.temperature"),
    ],
)
def test_refused_input_is_one_line_that_names_the_field(monkeypatch, capsys, command, text, field):
    status, out, err = run(monkeypatch, capsys, command, text)
    assert (status, out) == (2, "")
    assert err.startswith(f"{field}:")
    assert err.count("\n") == 1


def test_missing_file_and_unknown_command(capsys):
    assert main(["air", "no-such-file.json"]) == 2
    assert main(["dance"]) == 2
    assert main([]) == 2
    assert main(["--help"]) == 0
    capsys.readouterr()


@pytest.mark.parametrize("command", ["predict", "advise"])
@pytest.mark.parametrize(
    ("change", "field", "limit"),
    [
        ({"window": {"length": 5, "width": 10, "edge_height": 5.0}}, "window.edge_height", "just under the wall"),
        ({"block": {"height": 12, "width": 40, "length": 45}}, "block.width", "wider than the body it sits on (26 mm)"),
        ({"flue": {"depth": 0.8, "width": 11, "length": 22}}, "flue.width", "1.00 mm wider than its window (10 mm)"),
        ({"finger": {"depth": 5.0}}, "finger.depth", "just under the wall at holes[0] (5 mm)"),
    ],
)
def test_an_impossible_head_is_refused_by_its_whole_path(monkeypatch, capsys, command, change, field, limit):
    document = {"instrument": {**FLUTE, **change}, "targets": [{"fingering": "xxxxxx", "frequency": 440.0}]}
    if command == "predict":
        del document["targets"]
    status, out, err = run(monkeypatch, capsys, command, json.dumps(document))
    assert (status, out) == (2, "")
    assert f"instrument.{field}: " in err
    assert limit in err
    assert err.count("\n") == 1
