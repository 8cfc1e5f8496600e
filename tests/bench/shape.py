"""The shape of the code: ``python -m tests.bench.shape``, with ``--worst`` what is behind it.

It counts how much a newcomer has to hold in mind at once: branches of one function, files opened
for one fact, names that do not say what they are of. A figure that rises is a question, no verdict;
``tests/test_rooms.py`` holds the bounds.
"""

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
TANGLED_ABOVE = 15
SMALL_BELOW = 60  # lines

_BRANCHES = (
    ast.If,
    ast.For,
    ast.AsyncFor,
    ast.While,
    ast.ExceptHandler,
    ast.IfExp,
    ast.Assert,
    ast.match_case,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """What was counted of one package, migrations left out."""

    functions: int
    lines: int
    one_word: tuple[str, ...]  # functions, with their modules
    tangled: tuple[tuple[int, str], ...]  # complexity and function, the worst first
    small: tuple[tuple[int, str], ...]  # lines and module, the smallest first

    @property
    def one_word_share(self) -> float:
        """Share of functions whose name is one word [0 to 1]."""
        return len(self.one_word) / self.functions

    @property
    def tangled_per_thousand(self) -> float:
        """Functions above the bound of complexity, per thousand."""
        return 1000.0 * len(self.tangled) / self.functions


def complexity(function: ast.AST) -> int:
    """Paths through a function: 1, and 1 for each branch and condition (McCabe 1976)."""
    count = 1
    for node in ast.walk(function):
        if isinstance(node, _BRANCHES):
            count += 1
        elif isinstance(node, ast.BoolOp):
            count += len(node.values) - 1
        elif isinstance(node, ast.comprehension):
            count += 1 + len(node.ifs)
    return count


def measure(folder: Path) -> Shape:
    """Count the modules of a folder and what they define."""
    functions, lines = 0, 0
    one_word, tangled, small = [], [], []
    for path in sorted(folder.rglob("*.py")):
        if "migrations" in path.parts:
            continue
        text, module = path.read_text(encoding="utf-8"), str(path.relative_to(folder.parent))
        length = text.count("\n")
        lines += length
        if path.name != "__init__.py" and length < SMALL_BELOW:
            small.append((length, module))
        for node in ast.walk(ast.parse(text)):
            if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                continue
            if node.name.startswith("__"):
                continue
            functions += 1
            if "_" not in node.name.strip("_"):
                one_word.append(f"{module}:{node.name}")
            if (count := complexity(node)) > TANGLED_ABOVE:
                tangled.append((count, f"{module}:{node.name}"))
    return Shape(
        functions=functions,
        lines=lines,
        one_word=tuple(one_word),
        tangled=tuple(sorted(tangled, reverse=True)),
        small=tuple(sorted(small)),
    )


def table(shape: Shape) -> Iterator[str]:
    """Lines of the table, as DEVELOPERS.md has it."""
    yield "| of `monitor/` | counted |"
    yield "| --- | --- |"
    yield f"| functions whose name is one word | {shape.one_word_share:.0%} of {shape.functions} |"
    yield (
        f"| functions above complexity {TANGLED_ABOVE} |"
        f" {len(shape.tangled)}, {shape.tangled_per_thousand:.0f} per thousand |"
    )
    yield f"| modules under {SMALL_BELOW} lines | {len(shape.small)} |"
    yield f"| lines | {round(shape.lines, -2):,} |"


def main() -> int:
    """Print the table."""
    shape = measure(ROOT / "monitor")
    for line in table(shape):
        print(line)
    if "--worst" in sys.argv[1:]:
        for count, name in (*shape.tangled, *shape.small):
            print(f"{count:4d} {name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
