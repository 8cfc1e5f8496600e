"""The code keeps its layout, its types and its style: each tool is a test."""

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from tests.bench.shape import complexity, measure

ROOT = Path(__file__).parent.parent
BIN = Path(sys.executable).parent

CHECKS = {
    "ruff finds nothing": ["ruff", "check"],
    "ruff would format nothing": ["ruff", "format", "--check"],
    "mypy is content in strict mode": ["mypy"],
    "every import goes the one way through the rooms": ["lint-imports"],
}

# What the daemon must not carry in its memory all winter: reports and replays load these, in
# a process or at a time of their own.
HEAVY = {"pandas", "matplotlib", "scipy", "metpy", "pyarrow", "reportlab"}

# Verbs that need no object beside them: the class or the module that holds them is the object.
STANDARD_VERBS = frozenset(
    {"main", "run", "start", "stop", "close", "send", "add", "get", "put", "format", "may"}
)  # fmt: skip
# Public functions of one word that are still to be named, one a line. It only ever gets shorter.
ONE_WORD = Path(__file__).parent / "one_word_functions.txt"

MODULES = sorted(
    path
    for package in ("monitor", "simulator")
    for path in (ROOT / package).rglob("*.py")
    if "migrations" not in path.parts
)


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


@pytest.mark.parametrize("check", CHECKS)
def test_check(check):
    program, *options = CHECKS[check]
    done = subprocess.run(
        [BIN / program, *options], cwd=ROOT, text=True, capture_output=True, check=False
    )
    assert done.returncode == 0, f"{check}: it does not hold\n{done.stdout}{done.stderr}"


def test_the_daemon_starts_without_the_libraries_of_reports_and_replays():
    # In a process of its own: here, other tests have imported half of them already.
    program = "import sys, monitor.daemon.daemon; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, text=True, capture_output=True, check=True
    )
    loaded = {module.partition(".")[0] for module in done.stdout.split()}
    assert "monitor" in loaded
    assert loaded & HEAVY == set()


def opens_with_a_sentence(path: Path) -> bool:
    body = ast.parse(path.read_text(encoding="utf-8")).body
    first = body[0].value if body and isinstance(body[0], ast.Expr) else None
    return isinstance(first, ast.Constant) and isinstance(first.value, str) and first.lineno == 1


def test_every_module_says_in_its_first_line_what_lives_there():
    assert [named(path) for path in MODULES if not opens_with_a_sentence(path)] == []


def test_packages_hold_a_sentence_and_no_code():
    # delivery/channels is the exception: its __init__ is the table of channels.
    holding_code = [
        named(path)
        for path in MODULES
        if path.name == "__init__.py"
        and path.parent.name != "channels"
        and len(ast.parse(path.read_text(encoding="utf-8")).body) > 1
    ]
    assert holding_code == []


def test_no_room_has_a_place_for_what_fits_nowhere():
    shelves = {"utils", "util", "helpers", "helper", "manager", "base", "misc", "common"}
    assert [named(path) for path in MODULES if shelves & set(path.with_suffix("").parts)] == []


def test_nothing_stands_at_the_top_but_what_belongs_there():
    made_by_tools = {"build", "dist", "demo-out", "__pycache__"}
    at_the_top = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert at_the_top - made_by_tools == {
        "README.md", "DEVELOPERS.md", "CHANGELOG.md", "SECURITY.md", "LICENSE", "pyproject.toml",
        "mkdocs.yml", "monitor", "simulator", "config", "deploy", "docs", "tests",
    }  # fmt: skip


def imports_of(path: Path) -> set[str]:
    """Top-level names that a module imports, inside functions too."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module.partition(".")[0])
    return names


# Modules by the distribution that brings them, where a Python may lack it and the names differ.
OTHERWISE_NAMED = {"bidi": "python-bidi"}


def normal(requirement: str) -> str:
    """Name of a distribution as pip compares it."""
    return re.sub(r"[-_.]+", "-", re.split(r"[\[<>=!~; ]", requirement)[0]).lower()


def test_the_program_imports_nothing_that_only_the_tests_install():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [needs for extra, needs in project["optional-dependencies"].items() if extra != "test"]
    declared = {normal(need) for needs in [project["dependencies"], *extras] for need in needs}
    declared.add("pydantic-core")  # pydantic's own other half, which it pins to the digit
    distributions = packages_distributions()
    undeclared = {
        f"{named(path)} imports {name}"
        for path in (*(ROOT / "monitor").rglob("*.py"), *(ROOT / "simulator").rglob("*.py"))
        for name in imports_of(path) - set(sys.stdlib_module_names) - {"monitor", "simulator"}
        if not declared
        & {normal(each) for each in distributions.get(name, [OTHERWISE_NAMED.get(name, name)])}
    }
    assert undeclared == set()


def public_names(body: list[ast.stmt], above: str = "") -> Iterator[tuple[str, ast.stmt]]:
    """Public classes and functions of a module, those of classes as ``Class.name``.

    Properties are left out.
    """
    for node in body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield above + node.name, node
            yield from public_names(node.body, f"{above}{node.name}.")
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            marks = {ast.unparse(mark) for mark in node.decorator_list}
            if not node.name.startswith("_") and not marks & {"property", "cached_property"}:
                yield above + node.name, node


def test_a_newcomer_can_read_a_function_and_a_room_at_a_glance():
    # With some slack over what stands; `python -m tests.bench.shape --worst` names what to mend.
    shape = measure(ROOT / "monitor")
    assert shape.one_word_share <= 0.30
    assert shape.tangled_per_thousand <= 10.0, shape.tangled
    assert shape.tangled[0][0] <= 20, shape.tangled[0]
    assert len(shape.small) <= 30, shape.small


def test_complexity_counts_each_way_through_a_function():
    # Counted by hand: one way, an if with two conditions, a loop, a comprehension with a condition.
    written = """
def f(a, b):
    if a and b:
        return [x for x in a if x]
    for x in b:
        print(x)
"""
    assert complexity(ast.parse(written).body[0]) == 1 + 2 + 2 + 1


def test_no_two_public_classes_share_a_name():
    homes: dict[str, list[str]] = {}
    for path in MODULES:
        if path.parts[len(ROOT.parts)] == "monitor":
            for name, node in public_names(ast.parse(path.read_text(encoding="utf-8")).body):
                if isinstance(node, ast.ClassDef):
                    homes.setdefault(name.rpartition(".")[2], []).append(named(path))
    assert {name: paths for name, paths in homes.items() if len(paths) > 1} == {}


def test_a_public_function_is_a_verb_with_its_object_or_a_quantity_of_a_thing():
    # Physics names quantities as the field does: dew_point, but also stefan and evaporation.
    found = {
        f"{named(path)}:{name}"
        for path in MODULES
        if path.parts[len(ROOT.parts)] == "monitor" and "physics" not in path.parts
        for name, node in public_names(ast.parse(path.read_text(encoding="utf-8")).body)
        if not isinstance(node, ast.ClassDef)
        and "_" not in (word := name.rpartition(".")[2])
        and word not in STANDARD_VERBS
    }
    known = set(ONE_WORD.read_text(encoding="utf-8").split())
    assert found - known == set(), "name what it does to what, or of what it is the quantity"
    assert known - found == set(), f"no longer needed: take them out of {ONE_WORD.name}"
