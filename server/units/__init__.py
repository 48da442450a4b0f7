"""Units at the rim: reads what people type, writes numbers for people. The core never comes here.

registry     the one pint registry, made when first needed
dimensions   what each field's dimension is called, its fixed unit, and the spellings that need no pint
numbers      digits, commas, fractions and odd spaces -> an exact number, or a sentence about why not
reading      text -> quantity in the fixed unit, with tolerance and basis
money        text -> a price
writing      quantity -> text for a page, or for an edit form
"""

from __future__ import annotations

from server.units.dimensions import Dimension, dimension_noun, fixed_unit, with_article
from server.units.money import ReadMoney, edit_money, read_money, write_money
from server.units.numbers import QuantityError
from server.units.reading import Basis, Limits, ReadQuantity, read_quantity
from server.units.registry import registry, use_cache_folder
from server.units.writing import System, edit_text, unit_label, write_quantity, write_tolerance

__all__ = [
    "Basis",
    "Dimension",
    "Limits",
    "QuantityError",
    "ReadMoney",
    "ReadQuantity",
    "System",
    "dimension_noun",
    "edit_money",
    "edit_text",
    "fixed_unit",
    "read_money",
    "read_quantity",
    "registry",
    "unit_label",
    "use_cache_folder",
    "with_article",
    "write_money",
    "write_quantity",
    "write_tolerance",
]
