"""Classification of claims: components, failure modes, danger, evidence."""
