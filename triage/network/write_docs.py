"""Write the pages and pictures of the shipped networks: ``python -m triage.network.write_docs``.

They are committed, so that they can be read without installing anything; a test compares them with
the networks.
"""

from collections.abc import Mapping
from pathlib import Path

from triage.network.catalogue import load_network, network_names
from triage.network.datasheet.coverage import coverage_page
from triage.network.datasheet.page import appliance_page, picture_name
from triage.network.drawing import draw_network
from triage.network.shipped import shipped_folder

PAGES = "appliances"
PICTURES = "pictures"


def docs_folder() -> Path:
    """Folder ``docs`` beside the networks; an installed package has none."""
    return shipped_folder().parent / "docs"


def generated_files() -> Mapping[str, str]:
    """Text of every generated file by its path inside ``docs``."""
    networks = [load_network(name) for name in network_names()]
    return {
        f"{PAGES}/README.md": coverage_page(networks),
        **{f"{PAGES}/{network.id}.md": appliance_page(network) for network in networks},
        **{f"{PICTURES}/{picture_name(network.id)}": draw_network(network) for network in networks},
    }


def write_docs(folder: Path) -> list[Path]:
    """Write every generated file that differs, and return the paths of those."""
    written = []
    for name, text in generated_files().items():
        path = folder / name
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
            written.append(path)
    return written


def main() -> None:
    """Write the files and say which ones changed."""
    folder = docs_folder()
    if not folder.is_dir():
        raise SystemExit(f'"{folder}" is no folder; run this in a checkout of the project.')
    written = write_docs(folder)
    for path in written:
        print(path)
    print(f"{len(written)} files written." if written else "All files are current.")


if __name__ == "__main__":
    main()
