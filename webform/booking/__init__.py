"""Pages of the booking: free times for a call, visits of the vans, their calendars."""

from webform.booking.routes import bp

__all__ = ["bp"]
