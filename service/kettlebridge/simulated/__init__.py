"""Where the service meets the simulator: days, boards, hands and mishaps for a kettle file."""
