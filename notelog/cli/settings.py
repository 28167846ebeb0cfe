"""The command that shows and changes the shop's settings."""

from __future__ import annotations

from typing import Annotated

import typer

from notelog.cli.common import AsJson, Side, print_json


def register(app: typer.Typer) -> None:
    app.command()(settings)


def settings(
    driver_side: Annotated[Side | None, typer.Option(help="Side that the driver sits on, for notes not told.")] = None,
    currency: Annotated[str | None, typer.Option(help="The shop's currency, such as GBP, for exports.")] = None,
    shop: Annotated[str | None, typer.Option(help="The shop's name, for the heads of jobs and exports.")] = None,
    as_json: AsJson = False,
) -> None:
    """Show the settings, or change those given."""
    from dataclasses import asdict, replace

    from notelog import settings as kept
    from notelog.out import as_json as json_out
    from notelog.out import terminal

    given = {"driver_side": driver_side.value if driver_side else None, "currency": currency, "shop": shop}
    changes = {name: value for name, value in given.items() if value is not None}
    in_force = replace(kept.load(), **changes)
    if changes:
        kept.save(in_force)
    if as_json:
        print_json(json_out.line(asdict(in_force) | {"file": str(kept.settings_path())}))
        return
    terminal.say(terminal.table(("Setting", "Value"), asdict(in_force).items()), f"Kept in {kept.settings_path()}")
