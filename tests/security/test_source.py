"""What the program's own code never does. Looked up in its syntax, so that a word in a text does not count.

Sources: OWASP ASVS 4.0.3, 5.2.4, 5.2.5, 5.3.4, 5.3.8, 5.5.1 to 5.5.4, 6.2.5, 6.3.1, 10.2.1, 10.3.2.
"""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FOLDERS = ("webapp", "acoustics", "migrations")
# Runs texts as code, takes objects from bytes, reads XML with what it may fetch, or calls out.
FORBIDDEN_IMPORTS = {
    "pickle": (), "marshal": (), "shelve": (), "dill": (), "yaml": (), "xml": (), "lxml": (),
    "requests": (), "httpx": (), "httpx2": (), "aiohttp": (), "smtplib": (), "ftplib": (), "telnetlib": (),
    "urllib.request": (), "http.client": (), "ctypes": ("webapp/serving/process.py", "webapp/system_packages.py"),
    "random": ("webapp/drawings/blank/wood.py",),  # the same grain each time
}  # fmt: skip
FORBIDDEN_CALLS = {"eval", "exec", "compile", "__import__"}
WEAK = {"md5", "sha1", "MD5", "SHA1", "ECB", "Blowfish", "TripleDES", "ARC4"}


@cache
def sources() -> dict[str, str]:
    paths = [path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*.py"))]
    return {str(path.relative_to(ROOT)): path.read_text() for path in paths}


@cache
def trees() -> dict[str, ast.Module]:
    """The syntax of the files in which a word occurs that could matter; to parse all of them takes seconds."""
    modules = "|".join(map(re.escape, FORBIDDEN_IMPORTS))
    suspicious = re.compile(
        rf"(?m)^\s*(import|from)\s+({modules})\b|(?<![.\w])({'|'.join(FORBIDDEN_CALLS)})\(|\b({'|'.join(WEAK)})\b"
        r"|\bos\.(system|popen)|subprocess|shell=|\bMarkup\(|(sa\.|\W)text\(|exec_driver_sql|\.execute\("
    )
    return {path: ast.parse(text) for path, text in sources().items() if suspicious.search(text)}


@cache
def by_kind() -> dict[type[ast.AST], list[tuple[str, ast.AST]]]:
    found: dict[type[ast.AST], list[tuple[str, ast.AST]]] = {}
    for path, tree in trees().items():
        for node in ast.walk(tree):
            found.setdefault(type(node), []).append((path, node))
    return found


def nodes(kind: type[ast.AST]) -> list[tuple[str, ast.AST]]:
    return by_kind()[kind]


def dotted(node: ast.AST) -> str:
    """The name that is called, such as subprocess.run; what is no plain name is a dot."""
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else "."


def test_nothing_is_imported_that_runs_texts_takes_objects_or_calls_out() -> None:
    found = []
    for path, node in [*nodes(ast.Import), *nodes(ast.ImportFrom)]:
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else [node.module or ""]  # type: ignore[attr-defined]
        for name in names:
            for forbidden, but in FORBIDDEN_IMPORTS.items():
                if (name == forbidden or name.startswith(forbidden + ".")) and path not in but:
                    found.append((path, name))
    assert len(sources()) > 300 and len(trees()) > 20
    assert found == []


def test_no_text_is_run_as_code_and_no_program_through_a_shell() -> None:
    found = []
    for path, node in nodes(ast.Call):
        assert isinstance(node, ast.Call)
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        if isinstance(node.func, ast.Name) and name in FORBIDDEN_CALLS:
            found.append((path, name))
        whole = dotted(node.func)
        if whole in {"os.system", "os.popen", "subprocess.getoutput", "asyncio.create_subprocess_shell"}:
            found.append((path, whole))
        found += [(path, "shell=") for word in node.keywords if word.arg == "shell"]
        if whole.startswith("subprocess.") and node.args:
            assert not isinstance(node.args[0], ast.JoinedStr | ast.Constant), f"{path}: a program is named by a list"
    assert found == []


def test_texts_of_people_never_become_part_of_a_statement() -> None:
    """SQL is written by SQLAlchemy with bound values; what is put together by hand names our own tables."""
    by_hand = {
        "webapp/keeping/backups/backing_up.py",
        "webapp/keeping/doctor.py",
        "webapp/keeping/hold/held_by_session.py",
        "webapp/keeping/backups/leftovers.py",
        "webapp/keeping/backups/rebuilding.py",
        "webapp/keeping/backups/schema_check.py",
        "webapp/db.py",
        "webapp/shop/search.py",
        "webapp/models/search/searching.py",
    }
    for path, node in nodes(ast.Call):
        assert isinstance(node, ast.Call)
        if (
            not path.startswith(("webapp/drawings/", "webapp/paper/"))
            and dotted(node.func).split(".")[-1] in {"text", "exec_driver_sql", "execute"}
            and node.args
        ):
            made = isinstance(node.args[0], ast.JoinedStr | ast.BinOp) or ".format" in ast.unparse(node.args[0])
            assert not made or path in by_hand or path.startswith("migrations/"), (path, ast.unparse(node))


def test_no_weak_algorithm_is_named() -> None:
    found = [(path, node.attr) for path, node in nodes(ast.Attribute) if getattr(node, "attr", "") in WEAK]
    assert found == []


def test_templates_escape_everything() -> None:
    for path in (ROOT / "webapp/templates").rglob("*.html"):
        text = path.read_text()
        assert not re.search(r"\|\s*safe\b|autoescape\s+false", text), path.name
    # Marked as markup by hand only where it is made of numbers and escaped words.
    marked = {path for path, node in nodes(ast.Call) if dotted(node.func) == "Markup"}  # type: ignore[attr-defined]
    assert {Path(path).parts[1] for path in marked} <= {"drawings", "paper"}


@pytest.mark.parametrize("path", sorted((ROOT / "static").glob("*.js")), ids=lambda path: path.name)
def test_scripts_of_ours_make_no_markup_of_texts(path: Path) -> None:
    code = re.sub(r"//.*|/\*.*?\*/", "", path.read_text())
    for forbidden in (
        r"\beval\(", r"new Function", r"document\.write", r"\.innerHTML\s*=", r"insertAdjacentHTML", r"\.outerHTML\s*=",
        r"setTimeout\(\s*[\"']", r"sessionStorage", r"indexedDB", r"document\.cookie", r"https?://",
    ):  # fmt: skip
        assert not re.search(forbidden, code), forbidden
