"""One module for each command, of the same name; `run` gets the parsed arguments."""
