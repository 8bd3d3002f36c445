"""Logs of test cooks, from any logger or a handwritten form: read, cleaned, reported on."""
