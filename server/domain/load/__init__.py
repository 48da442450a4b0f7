"""The load: what is carried where, how it balances, what a back lifts, how long a battery lasts."""
