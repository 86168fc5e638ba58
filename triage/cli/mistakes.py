"""What a person at the keyboard can do wrong, as messages without a traceback."""

from typing import Any

import click


class UserMistake(click.ClickException):
    """A message on standard error that says what is wrong and what to do; exit code 2."""

    exit_code = 2

    def show(self, file: Any = None) -> None:
        """Print the message as it is, after the name of the program."""
        click.echo(f"triage: {self.format_message()}", file=file, err=True)
