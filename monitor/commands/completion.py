"""`bathvigil completion`: a script for a shell, so that TAB completes commands and options."""

import click
from click.shell_completion import get_completion_class

from monitor.commands.options import examples

VARIABLE = "_BATHVIGIL_COMPLETE"


@click.command(
    "completion",
    epilog=examples(
        "bathvigil completion bash >> ~/.bashrc",
        "bathvigil completion zsh >> ~/.zshrc",
        "bathvigil completion fish > ~/.config/fish/completions/bathvigil.fish",
    ),
)
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def command(shell: str) -> None:
    """Print the script that lets TAB complete commands and options in your shell.

    It works in the next terminal that you open.
    """
    from monitor.commands.main import bathvigil

    kind = get_completion_class(shell)
    if kind is None:
        raise TypeError(f"click completes no {shell}")
    click.echo(kind(bathvigil, {}, "bathvigil", VARIABLE).source())
