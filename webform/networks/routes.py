"""Routes of the networks: the list of them, a network, and what is around a part of it."""

from flask import Blueprint, Response, render_template, request
from flask.typing import ResponseReturnValue

from triage.services.networks import pictures as networks
from webform.networks.forms import AroundForm
from webform.networks.screens import around_screen, coverage_screen, network_screen

bp = Blueprint("networks", __name__, template_folder="templates")


@bp.get("/networks")
def network_list() -> ResponseReturnValue:
    """Choose a network, and see what each of them covers."""
    screen = coverage_screen(networks.coverage())
    return render_template("networks/network_list.html", screen=screen)


@bp.get("/networks/<name>")
def network(name: str) -> ResponseReturnValue:
    """Look at a network: picture, causes, repairs, parts."""
    chosen = networks.shipped_network(name)
    screen = network_screen(chosen, networks.picture(name))
    return render_template("networks/network.html", form=AroundForm.of(chosen), screen=screen)


@bp.get("/networks/<name>/picture.svg")
def picture(name: str) -> ResponseReturnValue:
    """Look at the picture alone, print it or keep it."""
    return Response(networks.picture(name), mimetype="image/svg+xml")


@bp.get("/networks/<name>/around")
def around(name: str) -> ResponseReturnValue:
    """Look at what is around a component or a sign."""
    chosen = networks.shipped_network(name)
    form = AroundForm.of(chosen, request.args)
    found = networks.surroundings(name, form.node.data) if form.validate() else None
    return render_template("networks/around.html", form=form, screen=around_screen(chosen, found))
