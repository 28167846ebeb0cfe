"""Commands that start at once."""

from __future__ import annotations

import typing
from functools import partial
from typing import Any

from typer.core import TyperCommand, TyperGroup

_TEXT = (str, str | None, list[str], list[str] | None)


class _Quick:
    """Takes text, and what was not given, as it is.

    Typer turns every argument into its type with pydantic, whose loading takes longer than typer's own, also where
    the type is text and nothing is to be done. Here only what is given and is no text, such as a number, goes that way.
    """

    def get_params(self, ctx: Any) -> list[Any]:
        parameters = super().get_params(ctx)
        types = typing.get_type_hints(getattr(self.callback, "__wrapped__", self.callback))
        for parameter in parameters:
            if "process_value" not in vars(parameter):
                is_text = types.get(parameter.name) in _TEXT
                parameter.process_value = partial(_process, parameter, is_text, parameter.process_value)
        return parameters


class QuickCommand(_Quick, TyperCommand):
    """A command that starts at once."""


class QuickGroup(_Quick, TyperGroup):
    """A group of commands that starts at once."""


def _process(parameter: Any, is_text: bool, by_typer: Any, context: Any, value: Any) -> Any:
    given = value is not None and value != parameter.default
    if (given and not is_text) or (parameter.required and not value):
        return by_typer(context, value)
    return parameter.callback(context, parameter, value) if parameter.callback else value
