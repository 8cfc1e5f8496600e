"""The matrix of access as docs/access.md prints it, made of the routes and the table of rights.

`python -m tests.web.access.matrix` writes it anew.
"""

from pathlib import Path

from monitor.web.access.roles import RIGHTS, SIGNED_IN_ONLY, AccessRole, Right
from monitor.web.access.route_rights import ROUTE_RIGHTS, RouteRight

PAGE = Path(__file__).parents[3] / "docs" / "access.md"
BEGIN, END = "<!-- made by tests/web/access/matrix.py -->", "<!-- end of what is made -->"
# The way each visitor of the matrix comes, in its order.
VISITORS = {
    "operator": "operator, signed in",
    "mechanic": "mechanic, signed in",
    "owner": "owner, signed in",
    "reader key": "key of a reader",
    "mechanic key": "key of a mechanic",
    "owner link": "owner by link",
    "third party link": "third party by link",
    "stranger": "stranger",
}
_ROLE = {
    "operator": AccessRole.OPERATOR,
    "mechanic": AccessRole.MECHANIC,
    "owner": AccessRole.OWNER,
    "reader key": AccessRole.READER,
    "mechanic key": AccessRole.MECHANIC,
    "owner link": AccessRole.OWNER,
    "third party link": AccessRole.THIRD_PARTY,
    "stranger": AccessRole.STRANGER,
}
_SIGNED_IN = {"operator", "mechanic", "owner"}
_LINKED = {"owner link", "third party link"}
_SEES_OWN = {"owner", "owner link", "third party link"}


def allowed(visitor: str, row: RouteRight) -> str:
    """What the table says: "yes", "own" for the own craft alone, or "no"."""
    if row.needs is None:
        return "yes"
    # A link opens the address that it stands in, and no other; nothing else opens that.
    if ("{token}" in row.path) != (visitor in _LINKED):
        return "no"
    if row.needs in SIGNED_IN_ONLY and visitor not in _SIGNED_IN:
        return "no"
    if row.needs not in RIGHTS[_ROLE[visitor]]:
        return "no"
    of_craft = any(part in row.path for part in ("{craft}", "{token}", "/own-craft"))
    return "own" if visitor in _SEES_OWN and of_craft else "yes"


def matrix_text() -> str:
    """Both tables, as Markdown."""
    lines = [
        "| may | " + " | ".join(VISITORS.values()) + " |",
        "| --- " * (len(VISITORS) + 1) + "|",
    ]
    for right in Right:
        cells = [
            "yes"
            if right in RIGHTS[_ROLE[one]] and (right not in SIGNED_IN_ONLY or one in _SIGNED_IN)
            else ""
            for one in VISITORS
        ]
        lines.append(f"| {right} | " + " | ".join(cells) + " |")
    lines += ["", "| route | " + " | ".join(VISITORS.values()) + " |"]
    lines += ["| --- " * (len(VISITORS) + 1) + "|"]
    for row in sorted(ROUTE_RIGHTS, key=lambda one: one.path):
        cells = [{"no": ""}.get(said := allowed(one, row), said) for one in VISITORS]
        lines.append(f"| {' '.join(row.methods)} `{row.path}` | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def page_with_matrix(page: str) -> str:
    """The page with the tables as they are now."""
    before, _, rest = page.partition(BEGIN)
    return f"{before}{BEGIN}\n\n{matrix_text()}\n\n{END}{rest.partition(END)[2]}"


if __name__ == "__main__":
    PAGE.write_text(page_with_matrix(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
