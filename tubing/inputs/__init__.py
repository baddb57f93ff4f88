"""The tables in ``data/``, job, shop and list files as records, every key, unit and name checked here.

The readers are ``job_file``, ``shop_file``, ``piece_lists`` and ``part_tables``; only what reads TOML needs pydantic.
"""
