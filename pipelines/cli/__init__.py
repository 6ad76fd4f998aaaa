"""The command line. Thin: parse, call one function, show. Heavy libraries are imported inside the commands that need them."""
