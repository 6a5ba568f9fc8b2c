"""All families, in the order of the table."""

from bench.families import first_print, overprinted, poor, separated, substrates, unprinted
from bench.families.case import Family

FAMILIES: tuple[Family, ...] = (
    *separated.FAMILIES,
    *overprinted.FAMILIES,
    *first_print.FAMILIES,
    *substrates.FAMILIES,
    *poor.FAMILIES,
    *unprinted.FAMILIES,
)
