"""Claims handed to a person as a workbook, and the answers taken back."""
