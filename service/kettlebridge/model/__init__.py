"""The words of the house: frozen dataclasses and enums, no behaviour beyond their own meaning."""
