"""``triage check``: every problem of network files, with the line of each."""

from pathlib import Path

import click

from triage.cli.output import json_option, write_json
from triage.network.catalogue import network_source
from triage.network.loader import check_file
from triage.network.shipped import shown_path


@click.command()
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@json_option
def check(files: tuple[str, ...], as_json: bool) -> None:
    """Check network files and report every problem with its line.

    FILE is the path of a network file or a fragment, or the name of a network that comes with the
    program. The exit code is 0 if every file is good, else 1.
    """
    problems = {shown_path(path): check_file(path) for path in map(_path_of, files)}
    count = sum(map(len, problems.values()))
    if as_json:
        files_checked = [
            {"file": file, "problems": list(found)} for file, found in problems.items()
        ]
        write_json({"is_good": count == 0, "problem_count": count, "files": files_checked})
    else:
        for file, found in problems.items():
            click.echo("\n".join(found) if found else f"{file}: good")
        if count:
            click.echo(f"{count} problem{'s' if count != 1 else ''} found.", err=True)
    if count:
        raise click.exceptions.Exit(1)


def _path_of(file: str) -> Path:
    """Path of the file: a bare word that names no file here is the name of a shipped network."""
    is_bare_word = Path(file).name == file and not Path(file).suffix
    if is_bare_word and not Path(file).exists():
        return network_source(file)
    return Path(file)
