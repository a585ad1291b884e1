"""Films: findings over time and over panels (physics §5.4, §9)."""
