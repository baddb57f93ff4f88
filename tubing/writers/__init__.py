"""What the sheet says, brought to the terminal, the page, CSV tables and JSON data. Writers decide nothing."""
