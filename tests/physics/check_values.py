"""The check values beside this file: rows of quantity, inputs, expected value and tolerance.

Status says what a row proves. Rows "computed-with-library" of CoolProp, psychrolib, iapws, ht
or pvlib, and "published" rows are outside checks; rows computed with numpy only guard against
change; "from-memory" and "common-practice" rows are no better than their name.

Changed against the collection they came from: tolerances are one number each; sunset and
sunrise allow 40 s, which is how far the library that we use lies from the solar position
algorithm that gave the values. The handbook's propylene glycol by volume allows 1.2 K, not 0.6:
ASHRAE's columns by volume and by mass put 25 % by volume at -9.9 °C where it has -8.9.
"""

import csv
from dataclasses import dataclass
from pathlib import Path

FILE = Path(__file__).with_name("check_values.csv")


@dataclass(frozen=True)
class CheckValue:
    quantity: str
    inputs: dict[str, str]
    expected: str
    tolerance: str
    source: str
    status: str

    def number(self, key: str) -> float:
        return float(self.inputs[key])

    def series(self, key: str) -> list[float]:
        return [float(each) for each in self.inputs[key].split("|")]

    @property
    def allowed(self) -> float:
        """Largest difference from the expected value that passes."""
        number, _, unit = self.tolerance.partition(" ")
        return float(number) / 100 * abs(float(self.expected)) if unit == "%" else float(number)

    def __str__(self) -> str:
        inputs = ";".join(f"{key}={value}" for key, value in self.inputs.items())
        return f"{self.quantity}[{inputs[:60]}]"


def check_values() -> list[CheckValue]:
    with FILE.open(newline="", encoding="utf-8") as file:
        return [
            CheckValue(
                quantity=row["quantity"],
                inputs=dict(part.split("=", 1) for part in row["inputs"].split(";")),
                expected=row["expected"],
                tolerance=row["tolerance"],
                source=row["source"],
                status=row["status"],
            )
            for row in csv.DictReader(file)
        ]
