"""What each command takes: options and arguments, wrong usage, then the call; what is heavy loads inside."""
