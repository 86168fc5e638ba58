"""English words of the owner's pages about people, tokens and the audit trail."""

from collections.abc import Mapping

from triage.services.people.audit import Action

STATUS_ACTIVE = "may sign in"
STATUS_NEW = "has a one-time password"
STATUS_AWAY = "may not sign in"

TOKEN_ACTIVE = "in force"
TOKEN_REVOKED = "revoked {when}"
TOKEN_IDLE = "its person may not do this any more"
NEVER_USED = "never"

NOBODY = "not signed in"
ACTIONS: Mapping[str, str] = {
    Action.OWNER_MADE: "made the first owner",
    Action.PERSON_ADDED: "added a person",
    Action.PERSON_RENAMED: "renamed a person",
    Action.ROLE_CHANGED: "changed a role",
    Action.PERSON_DEACTIVATED: "deactivated a person",
    Action.PERSON_ACTIVATED: "let a person in again",
    Action.PASSWORD_RESET: "gave a one-time password",
    Action.PASSWORD_CHANGED: "changed their own password",
    Action.SESSIONS_ENDED: "signed out on every device",
    Action.SIGNED_IN: "signed in",
    Action.SIGN_IN_FAILED: "failed to sign in",
    Action.TOKEN_MADE: "made a token",
    Action.TOKEN_REVOKED: "revoked a token",
    Action.SETTINGS_SAVED: "saved the settings",
    Action.CLOSING_CORRECTED: "corrected a closed job",
    Action.JOBS_EXPORTED: "saved closed jobs as a file",
    Action.JOBS_IMPORTED: "took closed jobs in from a file",
    Action.VERSION_PROPOSED: "proposed a version of a network",
    Action.VERSION_APPROVED: "approved a version of a network",
    Action.VERSION_REJECTED: "rejected a version of a network",
    Action.VERSION_IN_USE: "put a version of a network in use",
    Action.CUSTOMER_EXPORTED: "saved all that is known of a customer",
    Action.CUSTOMER_ERASED: "erased a customer",
    Action.PLATE_NOTE_ADDED: "added to the list by plate",
    Action.PLATE_NOTE_REMOVED: "took from the list by plate",
}


def action_text(action: str) -> str:
    """Act in words; one without a text of its own by its name."""
    return ACTIONS.get(action, action.replace("_", " "))
