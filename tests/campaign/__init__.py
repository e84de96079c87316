"""The fault campaign."""
