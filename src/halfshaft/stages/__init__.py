"""One function a station: what it is handed, what it hangs on, what is worked only when asked for by name."""
