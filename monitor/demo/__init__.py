"""The demo: an embedded broker, a simulated yard and the daemon, with nothing to configure."""
