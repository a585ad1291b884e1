"""Pictures: what findings look like. One picture a file; matplotlib opens when one is drawn."""
