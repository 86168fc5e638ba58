"""Closing a job: what was wrong, what was done, what it cost; closed jobs, their export."""
