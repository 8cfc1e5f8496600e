"""Every row of the table of agreement inside its tolerance, and the table up to date."""

import pytest

from tests.outside.agreement import AGREEMENTS, FILE, Agreement


@pytest.mark.parametrize("row", AGREEMENTS, ids=lambda row: f"{row.quantity} | {row.reference}")
def test_agrees_within_its_tolerance(row: Agreement):
    assert row.difference() <= row.tolerance


def test_the_written_table_lists_exactly_these_comparisons():
    # All but the measured difference, which moves in its last digit with the libraries.
    written = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in FILE.read_text(encoding="utf-8").splitlines()
        if line.startswith("|")
    ][2:]
    expected = [
        [row.quantity, row.reference, row.reach, f"{row.tolerance:g} {row.unit}", row.why]
        for row in AGREEMENTS
    ]
    assert [cells[:3] + cells[4:] for cells in written] == expected
