"""Routes of the technician's pages."""

from datetime import date

from flask import (
    Blueprint,
    Response,
    current_app,
    jsonify,
    redirect,
    render_template,
    request,
    url_for,
)
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import generate_csrf

from triage.services.booking.days import day_of
from triage.services.job import day as days
from triage.services.job import photos, record, stock
from webform.desk import desk
from webform.forms import Ticket, sent
from webform.jobsheet.day_screen import day_screen, waiting_screen
from webform.jobsheet.error_handlers import handle_errors
from webform.jobsheet.forms import (
    EntryForm,
    KeptPhotoForm,
    PhotoForm,
    StockForm,
    kept_entries,
    van_asked_for,
)
from webform.jobsheet.refusal import told_to_device
from webform.jobsheet.showing import show_sheet, show_stock
from webform.jobsheet.steps_screen import steps_screen

bp = Blueprint("jobsheet", __name__, template_folder="templates")

NUMBER_MAX = 999_999_999
JOB = f"/jobs/<int(max={NUMBER_MAX}):call_id>"
STOCK = f"/stock/<int(max={NUMBER_MAX}):van_id>"
SEE_OTHER = 303
handle_errors(bp)


@bp.get("/day")
def day() -> ResponseReturnValue:
    """Look at the visits of a van's day, and what to load for them."""
    now, zone = desk().clock(), desk().time_zone
    asked = request.args.get("on", day_of(now, zone), type=date.fromisoformat)
    wanted = days.DayWanted(
        login=desk().who().login, day=asked, zone=zone, now=now, van_id=van_asked_for()
    )
    found = days.technician_day(desk().database, wanted, desk().settings())
    return render_template("jobsheet/day.html", screen=day_screen(found, now))


@bp.get("/jobs/waiting")
def waiting() -> ResponseReturnValue:
    """Look at the jobs that wait for parts."""
    found = days.waiting_jobs(desk().database)
    return render_template("jobsheet/waiting.html", screen=waiting_screen(found))


@bp.get(JOB)
def job(call_id: int) -> ResponseReturnValue:
    """Look at the job sheet."""
    return show_sheet(call_id)


@bp.post(f"{JOB}/enter")
def enter(call_id: int) -> ResponseReturnValue:
    """Record what was found, done or said on the visit."""
    form = sent(EntryForm())
    record.record(desk().database, call_id, form.event(), form.entry())
    return redirect(url_for("jobsheet.job", call_id=call_id), SEE_OTHER)


@bp.post(f"{JOB}/entries")
def entries(call_id: int) -> ResponseReturnValue:
    """Record what a device kept while it had no signal."""
    kept, now = kept_entries(), desk().clock()
    received = record.record_entries(
        desk().database, call_id, kept.on_our_clock(now), at=now, by=desk().who().name
    )
    told = zip(received, kept.entries, strict=True)
    return jsonify(entries=[told_to_device(one, of.kind, of.fields) for one, of in told])


@bp.get("/jobs/token")
def token() -> ResponseReturnValue:
    """Get a fresh token with which kept entries can be sent."""
    return jsonify(token=generate_csrf(), login=desk().who().login)


@bp.post(f"{JOB}/photos")
def add_photo(call_id: int) -> ResponseReturnValue:
    """Keep a photo."""
    form = sent(PhotoForm())
    photos.keep_photo(desk().database, call_id, form.sent_photo(), form.entry())
    return redirect(url_for("jobsheet.job", call_id=call_id, _anchor="photos"), SEE_OTHER)


@bp.post(f"{JOB}/kept-photos")
def kept_photo(call_id: int) -> ResponseReturnValue:
    """Keep a photo that a device kept while it had no signal; sent again, it is kept once."""
    form = sent(KeptPhotoForm())
    photos.keep_photo(desk().database, call_id, form.sent_photo(), form.entry())
    return jsonify(reception=record.Reception.STORED.value, message="")


@bp.get(f"{JOB}/photos/<int(max={NUMBER_MAX}):photo_id>")
def photo(call_id: int, photo_id: int) -> ResponseReturnValue:
    """Look at a photo."""
    image, media_type = photos.photo_image(desk().database, call_id, photo_id)
    return Response(image, content_type=media_type)


@bp.get("/steps/<name>")
def steps(name: str) -> ResponseReturnValue:
    """Look at every test and repair of an appliance; a device keeps it for when it is off line."""
    version = min(request.args.get("version", 0, type=int), NUMBER_MAX)
    ticket = Ticket.for_page(0)
    return render_template("jobsheet/steps.html", screen=steps_screen(name, version), ticket=ticket)


@bp.get(STOCK)
def van_stock(van_id: int) -> ResponseReturnValue:
    """Look at what is aboard, and what is missing."""
    return show_stock(van_id)


@bp.post(f"{STOCK}/count")
def count(van_id: int) -> ResponseReturnValue:
    """Record what was counted aboard."""
    form = sent(StockForm())
    numbers = form.numbers()
    stock.count_stock(desk().database, van_id, numbers, desk().settings(), form.entry())
    return redirect(url_for("jobsheet.van_stock", van_id=van_id), SEE_OTHER)


@bp.post(f"{STOCK}/refill")
def refill(van_id: int) -> ResponseReturnValue:
    """Record what was put aboard."""
    form = sent(StockForm())
    numbers = form.numbers()
    stock.refill_stock(desk().database, van_id, numbers, desk().settings(), form.entry())
    back = form.page_to_go_on_with(van_id)
    return redirect(back, SEE_OTHER)


@bp.get("/sw.js")
def service_worker() -> ResponseReturnValue:
    """Get the script that keeps the day for when there is no signal; it serves every page."""
    response = current_app.send_static_file("service-worker.js")
    response.headers["Service-Worker-Allowed"] = "/"
    return response
