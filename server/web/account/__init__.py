"""Accounts: sign in, be invited, one's own account, the club's members: in the hosted form alone."""
