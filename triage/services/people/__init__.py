"""People of the shop: accounts, passwords, roles, tokens, and the audit trail."""
