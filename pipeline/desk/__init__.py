"""The desk: the answers and tables of the commands in a browser, on the owner's machine alone."""
