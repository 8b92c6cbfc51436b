"""Decks from forms: the same text, to the byte, as the templates print with the values themselves."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import jinja2
import pytest
from markupsafe import Markup

from coldiron.benches import BENCHES
from coldiron.deck import forms
from coldiron.deck.templates import Rows, environment
from coldiron.errors import DeckRefused
from coldiron.lamp.load import load_lamp
from coldiron.lamp.toml_file import shipped_names
from coldiron.study.disturbances import Leakage
from forms_rig import compared
from laboratory import Laboratory, case_of


@pytest.mark.ngspice
def test_every_deck_of_every_bench_and_lamp_is_what_its_templates_print(laboratory: Laboratory) -> None:
    leakage = Leakage(capacitance_f=1e-9)
    for name in shipped_names("lamps"):
        benches = BENCHES if name == "kerbside-flood" else ("steady", "switch-on")
        cases = [case_of(load_lamp(name), bench, leakage=leakage) for bench in benches]
        texts, known = laboratory.call(compared, cases)
        assert known < texts, f"{name}: no form is used again"


@dataclass(frozen=True)
class Values:
    """A number that may be wanting, a word and a count."""

    ohm: float | None
    node: str = "bus"
    count: int = 2

    @property
    def twice(self) -> Any:
        """A sum, which a template may not ask for."""
        return 2.0 * (self.ohm or 0.0)


TEMPLATE = """\
{% if v.ohm is not none -%}
R1 {{ v.node }} 0 {{ v.ohm }}
{% endif -%}
{% for second, volt in points %}{{ second }} {{ volt }} {% endfor %}
{{ each(".ic v({})={}", rows) }}
{{ body }}{{ v.count }}
"""


def printed(text: str = TEMPLATE, **values: Any) -> str:
    template: jinja2.Template = environment().from_string(text)
    found = forms.filled(text, values, template.render)
    assert found == template.render(values)
    return found


def test_what_decides_the_form_is_told_apart() -> None:
    body = Markup("* as (it is): 7\n")
    made = [
        printed(v=Values(ohm, node, count), points=points, rows=rows, body=body)
        for ohm in (None, 0.0, -0.0, 4.7e3, 1e-300)
        for node, count in (("bus", 1), ("drain", 1), ("drain", 2))
        for points in ((), ((0.0, 1.0),), ((1e-3, 0.5), (2e-3, -0.5)))
        for rows in (Rows(), Rows([("a", 1.0)]), Rows([("b", 2.0), ("c", 3.0)]))
    ]
    # Both zeros are printed alike, and without a resistor its node is not seen.
    assert len(set(made)) == (3 * 3 + 2) * 3 * 3


@pytest.mark.parametrize("wrong", [math.nan, math.inf])
def test_a_number_that_no_deck_can_hold_is_refused_from_a_form_too(wrong: float) -> None:
    printed("{{ ohm }}", ohm=1.0)
    with pytest.raises(DeckRefused):
        printed("{{ ohm }}", ohm=wrong)
    printed('{{ each("{} {}", rows) }}', rows=Rows([("a", 1.0)]))
    with pytest.raises(DeckRefused):
        printed('{{ each("{} {}", rows) }}', rows=Rows([("a", wrong)]))


@pytest.mark.parametrize(
    "text",
    ["{% if ohm %}R{% endif %}", "{{ 2.0 * ohm }}", "{{ ohm + 1.0 }}", "{% if ohm > 1.0 %}R{% endif %}"],
)
def test_a_template_that_asks_for_more_than_to_print_a_number_is_an_error(text: str) -> None:
    with pytest.raises(TypeError):
        printed(text, ohm=5.0)


def test_a_sum_behind_a_value_and_values_of_no_kind_are_errors() -> None:
    with pytest.raises(TypeError):
        printed("{{ v.twice }}", v=Values(5.0))
    with pytest.raises(TypeError, match="neither number nor word"):
        printed("{{ v }}", v=object())
