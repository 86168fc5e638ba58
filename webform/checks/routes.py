"""Routes of the checks on site. They write nothing: what is entered stands in the address."""

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from triage.services import calculations
from webform.checks.forms import CheckForm
from webform.checks.screens import check_screen
from webform.desk import desk

bp = Blueprint("checks", __name__, template_folder="templates")


@bp.get("/checks")
def check_list() -> ResponseReturnValue:
    """Choose a check."""
    return render_template("checks/check_list.html", checks=calculations.calculators())


@bp.get("/checks/<name>")
def check(name: str) -> ResponseReturnValue:
    """Enter what was measured, and read what it means."""
    form = CheckForm(calculations.calculator(name), request.args, desk().front().units)
    screen = check_screen(form)
    return render_template("checks/check.html", form=form, screen=screen)
