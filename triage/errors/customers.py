"""Errors of customers and their machines."""

from triage.errors.root import TriageError


class CustomerError(TriageError):
    """Root of what can go wrong with a customer or a machine on record."""


class UnknownCustomerError(CustomerError):
    """Raised when no customer of that number is on record."""

    def __init__(self, customer_id: int) -> None:
        self.customer_id = customer_id
        super().__init__(
            f"No customer {customer_id} is on record. Search by name or number, or add a new one."
        )


class UnknownMachineError(CustomerError):
    """Raised when a customer has no machine of that number."""

    def __init__(self, machine_id: int, customer_id: int) -> None:
        self.machine_id, self.customer_id = machine_id, customer_id
        super().__init__(
            f"Customer {customer_id} has no machine {machine_id} on record. "
            "Choose one of the customer's machines, or add a new one."
        )


class StaleCustomerError(CustomerError):
    """Raised when a customer was changed since the page was shown."""

    def __init__(self, customer_id: int) -> None:
        self.customer_id = customer_id
        super().__init__(
            "This customer was changed in another window since this page was shown. "
            "Nothing was overwritten; look at the customer as it is now and enter it again."
        )


class UnfinishedJobsError(CustomerError):
    """Raised when a customer is to be erased whose calls or visits have not ended."""

    def __init__(self, customer_id: int, unfinished: int) -> None:
        self.customer_id, self.unfinished = customer_id, unfinished
        jobs = "1 call is" if unfinished == 1 else f"{unfinished} calls are"
        super().__init__(
            f"{jobs} open or to be visited. Nothing was erased; end the calls or cancel the "
            "visits first."
        )
