"""`curecal completion`: the script that lets a shell complete commands and options."""

from __future__ import annotations

import click


@click.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def command(*, shell: str) -> None:
    """Print the completion script for your shell.

    For bash: curecal completion bash > ~/.local/share/bash-completion/completions/curecal
    """
    from click.shell_completion import get_completion_class

    from curecal.cli.main import cli
    from curecal.errors import UsageError

    made = get_completion_class(shell)
    if made is None:
        raise UsageError("shell-unknown", shell=shell)
    click.echo(made(cli, {}, "curecal", "_CURECAL_COMPLETE").source())
