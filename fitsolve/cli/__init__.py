"""The commands: a thin skin that parses, calls one function and shows the result."""
