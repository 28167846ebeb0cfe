"""Python's search for garbage in cycles, put off while a step makes a hundred thousand objects and no such garbage."""

from __future__ import annotations

import functools
import gc
from collections.abc import Callable
from typing import ParamSpec, TypeVar

Given = ParamSpec("Given")
Made = TypeVar("Made")


def unswept(function: Callable[Given, Made]) -> Callable[Given, Made]:
    """`function` run without the collection of garbage, which would go through all objects of the lexicon and of a note
    again and again and find nothing: their cycles are none, so what is no longer needed is given back at once anyway.

    >>> unswept(gc.isenabled)(), gc.isenabled()
    (False, True)
    """

    @functools.wraps(function)
    def quietly(*arguments: Given.args, **named: Given.kwargs) -> Made:
        was_on = gc.isenabled()
        gc.disable()
        try:
            return function(*arguments, **named)
        finally:
            if was_on:
                gc.enable()

    return quietly
