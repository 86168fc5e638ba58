"""Routes of the booking pages: a view gets the form, calls one service, redirects or renders."""

from datetime import date, timedelta

from flask import Blueprint, Response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from triage.services.booking import overview, vans, visits
from triage.services.booking.calendar import customer_calendar, van_calendar
from triage.services.booking.days import day_of, week_of
from webform.booking.forms import (
    AHEAD,
    BookTimeForm,
    CancelForm,
    LateForm,
    MissedForm,
    RenewForm,
    SearchForm,
    SlotForm,
    TimeForm,
    VanForm,
    day_in,
)
from webform.booking.screens import (
    book_screen,
    day_screen,
    slot_days,
    van_lines,
    visit_screen,
    week_screen,
    who_of_offer,
)
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.offers import offer_for

bp = Blueprint("booking", __name__, template_folder="templates")

NUMBER_MAX = 999_999_999
CALL = f"/calls/<int(max={NUMBER_MAX}):call_id>"
VISIT = f"/visits/<int(max={NUMBER_MAX}):visit_id>"
VAN = f"/vans/<int(max={NUMBER_MAX}):van_id>"
SEE_OTHER = 303
CALENDAR = "text/calendar; charset=utf-8"
FEED_BACK = timedelta(days=30)


def asked_day() -> date:
    """Day that the address asks for, or today."""
    return day_in(request.args.get("day")) or day_of(desk().clock(), desk().time_zone)


def calendar_file(text: bytes, name: str) -> Response:
    """Calendar as a file to be saved or followed."""
    response = Response(text, content_type=CALENDAR)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}.ics"'
    return response


@bp.route(f"{CALL}/book", methods=["GET", "POST"])
def book(call_id: int) -> ResponseReturnValue:
    """Choose one of the free times for a call."""
    usable = vans.find_vans(desk().database, only_active=True)
    search = SearchForm.for_vans(usable)
    offer = offer_for(call_id, search.wanted())
    form = SlotForm.for_offer(offer).with_ticket(Ticket.for_page(offer.booking.state.version))
    if form.validate_on_submit():
        visit_id = visits.book_visit(
            desk().database, form.wanted(offer), desk().booking_rules(), form.entry()
        )
        return redirect(url_for("booking.visit", visit_id=visit_id), SEE_OTHER)
    screen = book_screen(offer, usable)
    return render_template("booking/book.html", screen=screen, form=form, search=search)


@bp.route(f"{CALL}/book/time", methods=["GET", "POST"])
def book_time(call_id: int) -> ResponseReturnValue:
    """Book a call at a time that is not on the list."""
    form = BookTimeForm.for_vans(vans.find_vans(desk().database, only_active=True))
    offer = offer_for(call_id, form.search())
    form.proposing(asked_day(), offer.minutes)
    form.with_ticket(Ticket.for_page(offer.booking.state.version))
    if form.validate_on_submit():
        to_book = (form.wanted(offer), desk().booking_rules(), form.entry())
        visit_id = form.attempt(visits.book_visit, desk().database, *to_book)
        if visit_id is not None:
            return redirect(url_for("booking.visit", visit_id=visit_id), SEE_OTHER)
    return render_template("booking/book_time.html", screen=who_of_offer(offer), form=form)


@bp.get(VISIT)
def visit(visit_id: int) -> ResponseReturnValue:
    """Look at a visit, copy its confirmation, change it."""
    shown = overview.visit_of_call(desk().database, visit_id)
    booking = overview.booking_of_call(desk().database, shown.visit.call_id)
    return render_template("booking/visit.html", screen=visit_screen(shown, booking))


@bp.route(f"{VISIT}/move", methods=["GET", "POST"])
def move(visit_id: int) -> ResponseReturnValue:
    """Move a visit to another time or van."""
    shown = overview.visit_of_call(desk().database, visit_id)
    search = SearchForm.for_vans(vans.find_vans(desk().database, only_active=True))
    offer = offer_for(shown.visit.call_id, search.wanted(visit_id, shown.minutes))
    form = SlotForm.for_offer(offer).with_ticket(Ticket.for_page(shown.state.version))
    if form.validate_on_submit():
        slot = form.slot_wanted(offer.minutes)
        visits.move_visit(desk().database, visit_id, slot, desk().booking_rules(), form.entry())
        return redirect(url_for("booking.visit", visit_id=visit_id), SEE_OTHER)
    parts = {"days": slot_days(offer), "shown": shown, "minutes": offer.minutes}
    return render_template("booking/move.html", form=form, search=search, **parts)


@bp.route(f"{VISIT}/move/time", methods=["GET", "POST"])
def move_time(visit_id: int) -> ResponseReturnValue:
    """Move a visit to a time that is not on the list."""
    shown = overview.visit_of_call(desk().database, visit_id)
    form = TimeForm.for_vans(vans.find_vans(desk().database, only_active=True))
    form.proposing(
        day_of(shown.visit.starts_at, desk().time_zone), shown.minutes, shown.visit.van_id
    )
    form.with_ticket(Ticket.for_page(shown.state.version))
    if form.validate_on_submit():
        to_move = (visit_id, form.slot_wanted(), desk().booking_rules(), form.entry())
        form.attempt(visits.move_visit, desk().database, *to_move)
        if not form.errors:
            return redirect(url_for("booking.visit", visit_id=visit_id), SEE_OTHER)
    return render_template("booking/move_time.html", shown=shown, form=form)


@bp.route(f"{VISIT}/cancel", methods=["GET", "POST"])
def cancel(visit_id: int) -> ResponseReturnValue:
    """Cancel a visit, with the reason."""
    shown = overview.visit_of_call(desk().database, visit_id)
    form = CancelForm().with_ticket(Ticket.for_page(shown.state.version))
    if form.validate_on_submit():
        visits.cancel_visit(desk().database, visit_id, form.reason.data, form.entry())
        return redirect(url_for("booking.visit", visit_id=visit_id), SEE_OTHER)
    return render_template("booking/cancel.html", shown=shown, form=form)


@bp.route(f"{VISIT}/late", methods=["GET", "POST"])
def late(visit_id: int) -> ResponseReturnValue:
    """Say by how much the technician comes later."""
    shown = overview.visit_of_call(desk().database, visit_id)
    form = LateForm().with_ticket(Ticket.for_page(shown.state.version))
    if form.validate_on_submit():
        minutes = int(form.minutes.data)
        visits.run_late(desk().database, visit_id, minutes, form.entry())
        return redirect(url_for("booking.visit", visit_id=visit_id), SEE_OTHER)
    return render_template("booking/late.html", shown=shown, form=form)


@bp.post(f"{VISIT}/missed")
def missed(visit_id: int) -> ResponseReturnValue:
    """Record that nobody was there."""
    visits.miss_visit(desk().database, visit_id, sent(MissedForm()).entry())
    return redirect(url_for("booking.visit", visit_id=visit_id), SEE_OTHER)


@bp.get(f"{VISIT}/visit.ics")
def visit_file(visit_id: int) -> ResponseReturnValue:
    """Take a visit along as a calendar file for the customer."""
    shown = overview.visit_of_call(desk().database, visit_id)
    return calendar_file(customer_calendar(shown, desk().shop_name()), f"visit-{visit_id}")


@bp.get("/visits")
def day() -> ResponseReturnValue:
    """Look at a day of the vans."""
    wanted, settings = asked_day(), desk().desk_settings()
    found = overview.van_days(desk().database, settings, desk().time_zone, [wanted])
    return render_template("booking/day.html", screen=day_screen(wanted, found))


@bp.get("/visits/week")
def week() -> ResponseReturnValue:
    """Look at a week of the vans."""
    wanted, settings = asked_day(), desk().desk_settings()
    found = overview.van_days(desk().database, settings, desk().time_zone, week_of(wanted))
    return render_template("booking/week.html", screen=week_screen(wanted, found))


@bp.route("/vans", methods=["GET", "POST"])
def van_list() -> ResponseReturnValue:
    """Look at the vans, and add one."""
    form = VanForm.for_people(vans.drivers(desk().database), None).with_ticket(Ticket.for_page(0))
    if form.validate_on_submit():
        vans.add_van(desk().database, form.entered(), form.entry())
        return redirect(url_for("booking.van_list"), SEE_OTHER)
    lines = van_lines(vans.find_vans(desk().database))
    return render_template("booking/van_list.html", form=form, lines=lines)


@bp.route(VAN, methods=["GET", "POST"])
def van(van_id: int) -> ResponseReturnValue:
    """Rename a van, give it to somebody, renew the address of its calendar."""
    found = vans.find_van(desk().database, van_id)
    form = VanForm.for_people(vans.drivers(desk().database), found).with_ticket(Ticket.for_page(0))
    if form.validate_on_submit():
        vans.change_van(desk().database, van_id, form.entered(), form.entry())
        return redirect(url_for("booking.van_list"), SEE_OTHER)
    return render_template("booking/van.html", form=form, line=van_lines([found])[0])


@bp.post(f"{VAN}/calendar")
def renew_feed(van_id: int) -> ResponseReturnValue:
    """Give the calendar of a van a new address."""
    vans.renew_feed(desk().database, van_id, sent(RenewForm()).entry())
    return redirect(url_for("booking.van", van_id=van_id), SEE_OTHER)


@bp.get("/calendar/<secret>.ics")
def van_feed(secret: str) -> ResponseReturnValue:
    """Follow the calendar of a van; its address is the secret, and nobody signs in."""
    now = desk().clock()
    van, found = overview.visits_of_feed(desk().database, secret, now - FEED_BACK, now + AHEAD)
    return calendar_file(van_calendar(van.name, found), "visits")
