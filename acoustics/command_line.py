"""Help, versions and completion of the engine's command line. What is calculated does not pass through here."""

from __future__ import annotations

import json
from importlib.metadata import version
from typing import Annotated, Any

import typer

from acoustics.schema import EXAMPLES, schema

ABOUT = {
    "predict": "Resonances of one flute for each fingering.",
    "design": "A key to a flute. Exit status 3 where no layout meets the limits, with the nearest one.",
    "advise": "A flute on the bench and its readings to the next step.",
    "sound": "What each fingering sounds as the breath rises.",
    "air": "The properties of the air, each with its source.",
}
LISTEN = (
    "The notes in a recording (WAV, FLAC, OGG, MP3, M4A); with --swell what each did as it was blown over its jump."
)
app = typer.Typer(
    name="python -m acoustics",
    help="The physics of two-chamber flutes: one JSON document in, one out. Exit status 0 for an answer, 2 for a "
    "refused input (one line on standard error), 3 where no layout meets the limits.",
    no_args_is_help=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
File = Annotated[str, typer.Argument(metavar="[FILE]", help="The document; standard input if absent or -.")]


def run(arguments: list[str]) -> int:
    """Answer what is no calculation; the exit status. A wrong use is one line on standard error."""
    try:
        status = app(arguments, standalone_mode=False, prog_name="python -m acoustics")
    except Exception as wrong:
        told = getattr(wrong, "format_message", None)  # the library's own errors of use have it
        if told is None:
            raise
        typer.echo(" ".join(told().split()), err=True)
        return 2
    return status if isinstance(status, int) else 0


def fields(command: str) -> str:
    """The fields of a command's document, a line each, and an example."""
    told = schema(command)["input"]
    parts = [told, *(_of(told, one) for one in told.get("anyOf", []))]
    lines = ["\b", "Fields of the document (python -m acoustics schema has them whole):"]
    for part in parts:
        for name, one in part.get("properties", {}).items():
            must = ", required" if name in part.get("required", []) else ""
            lines.append(f"  {name}: {_kind(told, one)}{must}")
    example = json.dumps(EXAMPLES[command], indent=1)
    return "\n".join([*lines, "", "\b", "Example:", example])


def _of(told: dict[str, Any], one: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = told["$defs"][one["$ref"].rpartition("/")[2]] if "$ref" in one else one
    return found


def _kind(told: dict[str, Any], one: dict[str, Any]) -> str:
    """In a few words: what it is, and what is said of it."""
    whole = _of(told, one)
    said = one.get("description") or whole.get("description", "")
    if "anyOf" in whole:
        kind = " or ".join(dict.fromkeys(_kind(told, each).partition(";")[0] for each in whole["anyOf"]))
    elif "enum" in whole:
        kind = " or ".join(map(str, whole["enum"]))
    elif whole.get("type") == "array" and "items" in whole:
        kind = f"list of {_kind(told, whole['items']).partition(';')[0]}"
    else:
        kind = str(whole.get("type", whole.get("const", "value")))
    return f"{kind}; {said}" if said else kind


def _say_version(asked: bool) -> None:
    if asked:
        typer.echo(f"acoustics {version('flutebench')}")
        raise typer.Exit


@app.callback()
def always(
    version: Annotated[
        bool, typer.Option("--version", callback=_say_version, is_eager=True, help="Say which version this is.")
    ] = False,
) -> None:
    pass


@app.command(name="schema", help="JSON Schema of what each command takes and gives, or of one COMMAND.")
def print_schema(command: Annotated[str, typer.Argument(metavar="[COMMAND]")] = "") -> None:
    from acoustics.schema import schemas

    known = schemas()
    if command and command not in known:
        raise typer.BadParameter(f"no such command: {command}; there are {', '.join(known)}")
    typer.echo(json.dumps(known[command] if command else known, indent=1))


def _calculation(name: str) -> None:
    def calculate(file: File = "-") -> None:
        raise typer.BadParameter(f"{name} takes one FILE and no options")

    app.command(name=name, help=f"{ABOUT[name]}\n\n{fields(name)}")(calculate)


for _name in ABOUT:
    _calculation(_name)


@app.command(name="listen", help=LISTEN)
def listen(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The recording; - is standard input.")] = "-",
    expect: Annotated[str, typer.Option(metavar="NOTE", help="Only notes near this one, such as A4.")] = "",
    swell: Annotated[bool, typer.Option("--swell", help="The notes are blown from nothing until they jump.")] = False,
    pressures: Annotated[str, typer.Option(metavar="CSV", help="A gauge's log, seconds,Pa, with --swell.")] = "",
) -> None:
    raise typer.BadParameter("listen needs one FILE")
