"""From what was counted, measured and timed at the bench to marks and a verdict; pure arithmetic."""
