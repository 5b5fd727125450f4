"""fitsolve: what to cut the parts still unmade to, now that the finished ones came out as they did."""
