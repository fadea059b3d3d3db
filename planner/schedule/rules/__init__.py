"""The judge's rules, a module a subject; each is a function from a `Case` to what is broken."""
