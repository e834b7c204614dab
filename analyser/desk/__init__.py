"""The desk: a local page in the browser, over the functions that the commands use; nobody but the command imports it."""
