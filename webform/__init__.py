"""The web form: calls, visits, jobs and what the shop learns, as pages and as an API."""

from collections.abc import Mapping

# Lines of the commands of this package in ``triage --help``, which imports nothing else of it; a
# test compares them with the commands.
COMMANDS: Mapping[str, str] = {
    "serve": "Serve the web form from a data folder.",
    "demo": "Open a demo shop with invented calls on this machine.",
    "people": "List and add people, give one-time passwords, let somebody in no more.",
    "backup": "Copy the data of a shop into the folder TARGET, and check the copy.",
    "restore": "Put the backup TARGET into a data folder, after checking it.",
}
