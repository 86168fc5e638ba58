"""Route of the list of the owner's pages."""

from flask import render_template
from flask.typing import ResponseReturnValue

from webform.owner.blueprint import bp


@bp.get("")
def overview() -> ResponseReturnValue:
    """Choose what to look at or to set up."""
    return render_template("owner/overview.html")
