"""What is wrong and what to do about it are two things, whatever a person wrote."""

import pytest

from monitor.errors import BadValueError, fault_from
from monitor.units import TEMPERATURE, parse_quantity


def test_a_semicolon_in_what_a_person_wrote_does_not_cut_the_problem():
    with pytest.raises(BadValueError) as caught:
        parse_quantity("5; 6", TEMPERATURE)
    fault = fault_from(caught.value, "yard.toml", "design_low")
    assert fault.problem == "'5; 6' has unit '; 6'"
    assert fault.remedy.startswith("A temperature takes one of ")


def test_an_error_without_a_remedy_asks_to_be_corrected_and_is_told_whole():
    fault = fault_from(ValueError("a circuit is named twice; so are two more"), "layup", "")
    assert fault.problem == "a circuit is named twice; so are two more"
    assert fault.remedy == "Correct it."
