"""The small washer of ``networks_files`` with changes, and what the loader says to them."""

from collections.abc import Sequence
from pathlib import Path

from triage.network.loader import check_file

FILES = Path(__file__).parent / "networks_files"
NETWORK = "small_washer.yaml"
FRAGMENT = "fragments/small_drain.yaml"

Change = tuple[str, str]  # old text, which is in the file once, and new text


def problems_after(
    folder: Path,
    changes: Sequence[Change] = (),
    fragment_changes: Sequence[Change] = (),
    checked: str = NETWORK,
) -> tuple[str, ...]:
    """Problems of one of the two files, as seen from ``folder``, after changes to both."""
    (folder / "fragments").mkdir(exist_ok=True)
    for name, its_changes in ((NETWORK, changes), (FRAGMENT, fragment_changes)):
        (folder / name).write_text(_changed((FILES / name).read_text(), its_changes))
    problems = check_file(folder / checked)
    return tuple(problem.replace(f"{folder}/", "") for problem in problems)


def _changed(text: str, changes: Sequence[Change]) -> str:
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} is in the file {text.count(old)} times"
        text = text.replace(old, new)
    return text
