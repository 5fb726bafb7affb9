"""Puts a whole set of files into a folder, all of them or none, and touches nothing else there.

New files are written into a hidden folder beside the target, brought to the disk, and then put in
place one by one under a journal. Until then the old ones stand as they were; a run that is killed
during the change is mended by the next. Only files that an earlier plan listed as its own are
replaced or removed.
"""

from chainplan.writing.file import write_file
from chainplan.writing.folder import check_folder, fresh_folder, mend_folder
from chainplan.writing.names import file_names, safe_name

__all__ = [
    "check_folder",
    "file_names",
    "fresh_folder",
    "mend_folder",
    "safe_name",
    "write_file",
]
