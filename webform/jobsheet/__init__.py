"""Pages of the technician: the day, the job sheet, the stock of the van."""

from webform.jobsheet.routes import bp

__all__ = ["bp"]
