"""The Scout: rigs worth considering for what one wants, and why."""
