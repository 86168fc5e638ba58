"""Routes of the pages of customers and their machines."""

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from triage.services.customers import history, records
from triage.services.networks.engines import network_choices
from webform.customers.forms import CustomerForm, MachineForm
from webform.customers.screens import customer_lines, customer_screen
from webform.desk import desk
from webform.forms import Ticket

bp = Blueprint("customers", __name__, template_folder="templates")

NUMBER_MAX = 999_999_999
CUSTOMER = f"/customers/<int(max={NUMBER_MAX}):customer_id>"
SEE_OTHER = 303
SEARCH_MAX = 100


def region() -> str:
    """Country of phone numbers written without one."""
    return desk().desk_settings().phone_region


@bp.get("/customers")
def customer_list() -> ResponseReturnValue:
    """Search customers by name or number."""
    search = request.args.get("q", "")[:SEARCH_MAX]
    found = records.search_customers(desk().database, search, region())
    return render_template(
        "customers/customer_list.html", lines=customer_lines(found), search=search
    )


@bp.route("/customers/new", methods=["GET", "POST"])
def new_customer() -> ResponseReturnValue:
    """Put a customer on record who is not calling now."""
    form = CustomerForm.for_customer(None).with_ticket(Ticket.for_page(0))
    if form.validate_on_submit():
        added = records.add_customer(desk().database, form.customer(), region(), form.entry())
        return redirect(url_for("customers.customer", customer_id=added.id), SEE_OTHER)
    return render_template("customers/new_customer.html", form=form)


@bp.route(CUSTOMER, methods=["GET", "POST"])
def customer(customer_id: int) -> ResponseReturnValue:
    """Look at a customer with machines and jobs, and change what is on record."""
    found = records.find_customer(desk().database, customer_id)
    form = CustomerForm.for_customer(found).with_ticket(Ticket.for_page(found.version))
    if form.validate_on_submit():
        entered = form.customer()
        records.change_customer(desk().database, customer_id, entered, region(), form.entry())
        return redirect(url_for("customers.customer", customer_id=customer_id), SEE_OTHER)
    days, now = desk().desk_settings().callback_days, desk().clock()
    screen = customer_screen(found, history.jobs_of(desk().database, customer_id, now, days))
    return render_template("customers/customer.html", form=form, screen=screen)


@bp.route(f"{CUSTOMER}/machines/new", methods=["GET", "POST"])
def new_machine(customer_id: int) -> ResponseReturnValue:
    """Put another machine of a customer on record."""
    found = records.find_customer(desk().database, customer_id)
    form = MachineForm.for_machine(None, network_choices(), records.all_drives())
    if form.with_ticket(Ticket.for_page(0)).validate_on_submit():
        machine = form.machine(form.network.data)
        records.add_machine(desk().database, customer_id, machine, form.entry())
        return redirect(url_for("customers.customer", customer_id=customer_id), SEE_OTHER)
    return render_template("customers/machine.html", form=form, customer=found, machine=None)


@bp.route(f"{CUSTOMER}/machines/<int(max={NUMBER_MAX}):machine_id>", methods=["GET", "POST"])
def machine(customer_id: int, machine_id: int) -> ResponseReturnValue:
    """Change what is on record of a machine."""
    found = records.find_customer(desk().database, customer_id)
    known = records.machine_of(found, machine_id)
    form = MachineForm.for_machine(known, network_choices(), records.all_drives())
    if form.with_ticket(Ticket.for_page(found.version)).validate_on_submit():
        entered = form.machine(form.network.data)
        records.change_machine(desk().database, customer_id, machine_id, entered, form.entry())
        return redirect(url_for("customers.customer", customer_id=customer_id), SEE_OTHER)
    return render_template("customers/machine.html", form=form, customer=found, machine=known)
