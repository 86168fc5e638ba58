"""What axe finds wrong with a page (tests/browser/VENDORED.md)."""

from pathlib import Path

from playwright.sync_api import Page

AXE = (Path(__file__).parent / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
LOOKS = ["color-contrast", "target-size"]  # what another size or theme can change


def axe_findings(page: Page, *, only_looks: bool = False) -> list[str]:
    """What axe finds wrong: rule, place, reason; ``only_looks`` checks contrast and sizes alone."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    options = {
        "runOnly": LOOKS if only_looks else RULES,
        "resultTypes": ["violations"],  # of the others, one element a rule is enough
    }
    if not only_looks:
        options["rules"] = {"target-size": {"enabled": True}}
    found = page.evaluate("options => axe.run(document, options)", options)
    assert found["passes"], "axe checked nothing"
    return [
        f"{violation['id']}: {node['target']} {node['failureSummary']}"
        for violation in found["violations"]
        for node in violation["nodes"]
    ]
