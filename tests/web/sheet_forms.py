"""Forms of the job sheet, filled in as a technician does."""

from tests.web.page import Node, Page, Visitor


def form_of(page: Page, kind: str) -> int:
    """Place of the first form of a kind among those that enter something."""
    for place, form in enumerate(page.forms("/enter")):
        if form.all("input", name="kind", value=kind):
            return place
    raise AssertionError(f"no form of kind {kind}")


def enter(visitor: Visitor, call_id: int, kind: str, **values: str) -> Page:
    """Fill in the first form of a kind on a fresh sheet, and send it."""
    page = visitor.open(f"/jobs/{call_id}")
    return visitor.send(page, values, action="/enter", number=form_of(page, kind))


def take_step(visitor: Visitor, call_id: int, step: str) -> Page:
    return enter(visitor, call_id, "job_overruled", taken=step, reason="It looked like it")


def folded(page: Page) -> list[Node]:
    """Folded parts of the sheet."""
    return [
        one for one in page.root.all("details") if "part" in one.attributes.get("class", "").split()
    ]


def part(page: Page, name: str) -> Node:
    """Folded part of the sheet of that name."""
    (found,) = page.root.all("details", id=name)
    return found
