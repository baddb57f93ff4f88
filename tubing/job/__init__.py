"""Job, shop and list files to records, every unit and name checked here: the only door to pydantic."""
