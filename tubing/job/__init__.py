"""Job, shop and list files to records, every unit and name checked here: the only door to pydantic."""

from tubing.job.lists import read_list
from tubing.job.shop import data_folder, read_shop
from tubing.job.vehicle import job_of, read_job

__all__ = ["data_folder", "job_of", "read_job", "read_list", "read_shop"]
