"""Groups of commands that import a command's module only when it is called."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from curecal.errors import CurecalError

if TYPE_CHECKING:
    from collections.abc import Mapping


class LazyGroup(click.Group):
    """A group with a table of its commands: the module of each, and its line in the help."""

    def __init__(self, *args: Any, table: Mapping[str, tuple[str, str]], **kwargs: Any) -> None:
        self.table = table
        super().__init__(*args, **kwargs)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of the table: most wanted first."""
        del ctx
        return list(self.table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, its module imported now; None for a name there is not."""
        del ctx
        if cmd_name not in self.table:
            return None
        import importlib

        found = importlib.import_module(self.table[cmd_name][0]).command
        if not isinstance(found, click.Command):
            raise CurecalError("command-broken", command=cmd_name)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands from the table, importing none."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in self.table.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; a name there is not is answered with the nearest there is."""
        if args and args[0] not in self.table and not args[0].startswith("-"):
            import difflib

            near = difflib.get_close_matches(args[0], self.table, n=1)
            hint = f" Did you mean {near[0]!r}?" if near else ""
            ctx.fail(f"There is no command {args[0]!r}.{hint}")
        return super().resolve_command(ctx, args)
