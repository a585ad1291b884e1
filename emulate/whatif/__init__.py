"""What if: which single change to a panel would take each loss out of sight, and how much of it."""
