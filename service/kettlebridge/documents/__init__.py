"""What people read, made of codes and numbers: words, sentences and pages. Pure: values in, text out."""

from __future__ import annotations
