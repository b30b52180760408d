"""Running calculators: inputs bound to records, results kept as rows, kept results brought up to date."""
