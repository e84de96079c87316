"""One module for each kind of step: its stages as rows. STAGES in core.sequencer names them all."""

from __future__ import annotations
